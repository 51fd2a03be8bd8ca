"""The next jobs by API: whose, narrowed how, never older than one's own report, in a fixed number of queries."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import orjson
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoAssertNumQueries

from core.api.rendering import dump
from core.models import Crew, CrewMember, FreeTime, Graph, Holding, Person
from jobs.api.fields import with_areas
from jobs.models import Assignment, Job, JobState, Need, NeedKind
from jobs.selectors.next import next_jobs
from plots.models import Machine, Plot
from tests.core.world import World, script_of
from tests.jobs.api.matrix import reckon

THURSDAY = datetime(2026, 4, 2, 14, tzinfo=UTC)
pytestmark = pytest.mark.django_db


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    """Its clock stands on a Thursday morning, 9:00 in Chicago."""
    return holding_factory(name="Home holding", clock_at=THURSDAY)


def open_job(job: Job, **fields: Any) -> Job:
    reckon(job, state=JobState.OPEN, **fields)
    return job


def titles(answer: Any) -> list[str]:
    assert answer.status_code == 200, answer.content
    return [job["title"] for job in answer.json()["jobs"]]


def test_the_nearest_deadline_comes_first_and_what_has_none_last(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    open_job(job_factory(holding, "No hurry"))
    open_job(job_factory(holding, "In May"), latest_start=datetime(2026, 5, 1, tzinfo=UTC))
    open_job(job_factory(holding, "On Sunday"), latest_start=datetime(2026, 4, 5, 12, tzinfo=UTC))
    reckon(job_factory(holding, "Done"), state=JobState.DONE)
    reckon(job_factory(holding, "Lapsed"), state=JobState.LAPSED)
    assert titles(script_of(manager).get("/api/next/")) == ["On Sunday", "In May", "No hurry"]


def test_answer_says_whose_it_is_when_and_how_current(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    open_job(job_factory(holding, "Till"))
    Graph.objects.filter(holding=holding).update(facts_version=9, walked_version=8)
    told = script_of(manager).get("/api/next/").json()
    assert told["holding"]["name"] == "Home holding"
    assert told["now"] == "2026-04-02T14:00:00Z"
    assert told["clock_stands"] is True
    assert told["clock_sentence"] == "The clock of this holding stands at Thu 2 Apr 2026, 09:00."
    assert (told["facts_version"], told["walked_version"]) == (9, 8)
    assert told["person"] == {"id": manager.pk, "name": "Manager of home"}


def test_work_that_can_hurt_carries_its_cautions_and_who_decides(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    open_job(job_factory(holding, "Burn the unit", operation="burn"))
    (job,) = script_of(manager).get("/api/next/").json()["jobs"]
    hazards = {caution["hazard"]: caution for caution in job["cautions"]}
    assert "fire" in hazards
    assert hazards["fire"]["lines"]
    assert hazards["fire"]["decides"]


def test_helper_gets_own_jobs_and_those_of_the_crew_that_are_nobodys(
    holding: Holding, helper_person: Person, person_factory: Callable[..., Person], job_factory: Callable[..., Job]
) -> None:
    other = person_factory(holding, "helper")
    crew = Crew.objects.create(holding=holding, name="Crew")
    CrewMember.objects.create(holding=holding, crew=crew, person=helper_person)
    mine, his, ours = (open_job(job_factory(holding, title)) for title in ("Mine", "His", "Nobody's"))
    Assignment.objects.create(holding=holding, job=mine, person=helper_person)
    Assignment.objects.create(holding=holding, job=his, person=other)
    assert titles(script_of(helper_person).get("/api/next/")) == ["Mine", "Nobody's"]
    assert titles(script_of(other).get("/api/next/")) == ["His"], "in no crew: only what is given by hand"
    assert ours.pk


def test_manager_asks_for_anybody_and_nobody_else_does(world: World) -> None:
    home, away = world.home, world.away
    answer = world.clients["manager"].get("/api/next/", {"person": home.helper.pk})
    assert answer.json()["person"]["id"] == home.helper.pk
    assert world.clients["helper"].get("/api/next/", {"person": home.helper.pk}).status_code == 200
    assert world.clients["helper"].get("/api/next/", {"person": home.manager.pk}).status_code == 403
    told = [world.clients["manager"].get("/api/next/", {"person": pk}) for pk in (away.helper.pk, 987_654_321)]
    assert [answer.status_code for answer in told] == [404, 404]
    assert told[0].json()["title"] == told[1].json()["title"]


def test_viewer_has_no_next_jobs(viewer: Person, holding: Holding, job_factory: Callable[..., Job]) -> None:
    open_job(job_factory(holding, "Till"))
    assert titles(script_of(viewer).get("/api/next/")) == []


def test_narrowed_to_a_property(
    manager: Person, holding: Holding, job_factory: Callable[..., Job], plot_factory: Callable[..., Plot], world: World
) -> None:
    here, there = plot_factory(holding), plot_factory(holding)
    open_job(job_factory(holding, "Here", plot=here))
    open_job(job_factory(holding, "There", plot=there))
    script = script_of(manager)
    assert titles(script.get("/api/next/", {"property": here.property_id})) == ["Here"]
    assert script.get("/api/next/", {"property": world.home.id("property")}).status_code == 404


def test_i_have_two_hours_and_this_machine_is_with_me(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    Machine.objects.create(holding=holding, name="Old blue", kind="tractor")
    till = open_job(job_factory(holding, "Till", duration_min=90))
    spray = open_job(job_factory(holding, "Spray", duration_min=60))
    open_job(job_factory(holding, "Walk the trail", duration_min=30))
    open_job(job_factory(holding, "Fence", duration_min=300))
    Need.objects.create(holding=holding, job=till, kind=NeedKind.MACHINE, name="tractor")
    Need.objects.create(holding=holding, job=spray, kind=NeedKind.MACHINE, name="tractor")
    Need.objects.create(holding=holding, job=spray, kind=NeedKind.MACHINE, name="boom_sprayer")
    script = script_of(manager)
    ask = {"hours": 2, "machine": ["Old blue"]}
    assert titles(script.get("/api/next/", ask)) == ["Till", "Walk the trail"]
    ask["machine"] = ["tractor", "boom sprayer"]
    assert titles(script.get("/api/next/", ask)) == ["Till", "Spray", "Walk the trail"]


def test_on_a_day_without_free_hours_nothing_is_next(
    helper_person: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job = open_job(job_factory(holding, "Till"))
    Assignment.objects.create(holding=holding, job=job, person=helper_person)
    FreeTime.objects.create(holding=holding, person=helper_person, weekday=5, starts=time(8), ends=time(12))
    script = script_of(helper_person)
    assert titles(script.get("/api/next/", {"on": "2026-04-03"})) == []
    answer = script.get("/api/next/", {"on": "2026-04-04"})
    assert titles(answer) == ["Till"]
    assert answer.json()["jobs"][0]["hours"] == [
        {"from": "2026-04-04T13:00:00Z", "to": "2026-04-04T17:00:00Z", "zone": "America/Chicago", "ends": ""}
    ]
    assert date(2026, 4, 4).weekday() == 5


def test_areas_are_told_in_the_units_of_the_holding_or_of_the_asker(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    open_job(job_factory(holding, "Till", acres=10.0))
    script = script_of(manager)
    (job,) = script.get("/api/next/").json()["jobs"]
    assert (job["acres"], job["area"], job["area_left"]) == (10.0, {"value": 10.0, "unit": "ac"}, job["area"])
    (job,) = script.get("/api/next/", {"units": "metric"}).json()["jobs"]
    assert (job["acres"], job["area"]) == (10.0, {"value": 4.05, "unit": "ha"})
    Holding.objects.filter(pk=holding.pk).update(units="metric")
    (job,) = script.get("/api/next/").json()["jobs"]
    assert job["area"] == {"value": 4.05, "unit": "ha"}


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("person=0", "#/person"),
        ("person=abc", "#/person"),
        ("hours=-1", "#/hours"),
        ("hours=0", "#/hours"),
        ("hours=two", "#/hours"),
        ("hours=25", "#/hours"),
        ("hours=nan", "#/hours"),
        ("days=99", "#/days"),
        ("on=2026-02-30", "#/on"),
        ("after=-1", "#/after"),
        (f"after={'9' * 40}", "#/after"),
        ("units=furlongs", "#/units"),
        ("machines=tractor", "#/machines"),
        ("machine=%00", "#/machine/0"),
    ],
)
def test_parameter_that_makes_no_sense_is_refused_by_name(query: str, pointer: str, manager: Person) -> None:
    answer = script_of(manager).get(f"/api/next/?{query}")
    assert answer.status_code == 400
    assert {error["pointer"] for error in answer.json()["errors"]} == {pointer}


def test_nobodys_list_is_older_than_their_own_report(
    helper_person: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding, "Look", operation="look")
    Assignment.objects.create(holding=holding, job=job, person=helper_person)
    script = script_of(helper_person)
    version = Graph.objects.get(holding=holding).facts_version
    assert titles(script.get("/api/next/", {"after": version})) == ["Look"]
    report = {
        "client_id": "0d9a3b54-0a54-4f1b-9a43-000000000001",
        "job": job.pk,
        "kind": "done",
        "happened_at": "2026-04-02T08:30:00-05:00",
    }
    receipt = script.post("/api/reports/", report, format="json").json()
    assert titles(script.get("/api/next/")) == ["Look"], "no walk has seen the report yet"
    after = script.get("/api/next/", {"after": receipt["facts_version"]})
    assert titles(after) == []
    assert after.json()["walked_version"] == after.json()["facts_version"] == receipt["facts_version"]


def test_version_from_the_future_asks_for_no_walk(manager: Person, holding: Holding) -> None:
    Graph.objects.filter(holding=holding).update(facts_version=4, walked_version=4)
    script_of(manager).get("/api/next/", {"after": 2**62})
    assert Graph.objects.get(holding=holding).walked_at is None


def held_by(earlier: Job) -> list[dict[str, Any]]:
    at = int((THURSDAY + timedelta(days=2)).timestamp() // 60)
    inputs = {"predecessor": earlier.pk, "since": at - 3000}
    return [{"kind": "lag", "rule": "prerequisite:1", "clears": {"how": "at", "at": at}, "inputs": inputs}]


def test_number_of_queries_is_the_same_for_a_short_and_a_long_list(
    manager: Person,
    holding: Holding,
    job_factory: Callable[..., Job],
    plot_factory: Callable[..., Plot],
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    def add(number: int) -> None:
        plot = plot_factory(holding)
        earlier = open_job(job_factory(holding, f"Till {number}", plot=plot))
        later = job_factory(holding, f"Sow {number}", plot=plot)
        reckon(later, state=JobState.HELD, holds=held_by(earlier), earliest_start=THURSDAY + timedelta(days=2))
        Need.objects.create(holding=holding, job=earlier, kind=NeedKind.MACHINE, name="tractor")
        Assignment.objects.create(holding=holding, job=later, person=manager)

    FreeTime.objects.create(holding=holding, person=manager, weekday=5, starts=time(8), ends=time(12))
    script = script_of(manager)
    add(0)
    script.get("/api/next/")
    with CaptureQueriesContext(connection) as short:
        assert len(titles(script.get("/api/next/"))) == 2
    for number in range(1, 21):
        add(number)
    with django_assert_num_queries(len(short)):
        assert len(titles(script.get("/api/next/"))) == 42


def test_json_says_what_the_list_of_pages_and_commands_says_now_and_again(
    manager: Person, helper_person: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    def both() -> Any:
        found = next_jobs(holding=Holding.objects.get(pk=holding.pk), person=manager, now=THURSDAY)
        shown = [with_areas(answer, Holding.objects.get(pk=holding.pk).units) for answer in found]
        told = script_of(manager).get("/api/next/").json()["jobs"]
        assert told == orjson.loads(dump(shown))
        return told

    FreeTime.objects.create(holding=holding, person=manager, weekday=5, starts=time(8), ends=time(12))
    sprayer = Machine.objects.create(holding=holding, name="Old blue", kind="sprayer")
    spray = open_job(job_factory(holding, "Spray", operation="spray", acres=2.0), latest_start=THURSDAY)
    later = job_factory(holding, "Sow", acres=1.5)
    reckon(later, state=JobState.HELD, holds=held_by(spray), earliest_start=THURSDAY + timedelta(days=2))
    Need.objects.create(holding=holding, job=spray, kind=NeedKind.MACHINE, name="sprayer", machine=sprayer)
    given = Assignment.objects.create(
        holding=holding, job=spray, person=manager, day=date(2026, 4, 4), starts=time(9), ends=time(12)
    )
    first = both()
    assert both() == first
    by_title = {job["title"]: job for job in first}
    assert by_title["Spray"]["bring"]["machines"] == ["Old blue"]
    assert (by_title["Spray"]["assigned"][0]["day"], by_title["Spray"]["assigned"][0]["from"]) == (
        "2026-04-04",
        "09:00:00",
    )
    assert "Spray" in by_title["Sow"]["holds"][0]["sentence"]

    Machine.objects.filter(pk=sprayer.pk).update(name="New red")
    Person.objects.filter(pk=manager.pk).update(name="Another name")
    Assignment.objects.filter(pk=given.pk).update(starts=time(10))
    Job.objects.filter(pk=spray.pk).update(title="Spray again", acres=4.0)
    Holding.objects.filter(pk=holding.pk).update(units="metric", zone="America/Denver")
    manager.refresh_from_db()
    changed = {job["title"]: job for job in both()}
    assert changed["Spray again"]["bring"]["machines"] == ["New red"]
    assert changed["Spray again"]["assigned"][0]["to"] == "Another name"
    assert changed["Spray again"]["assigned"][0]["from"] == "10:00:00"
    assert changed["Spray again"]["area"] == {"value": 1.62, "unit": "ha"}
    assert "Spray again" in changed["Sow"]["holds"][0]["sentence"]

    FreeTime.objects.filter(person=manager).delete()
    assert both()[0]["hours_note"].startswith("No free hours of Another name")


@pytest.mark.parametrize(
    ("accepted", "status"),
    [("application/json", 200), ("*/*", 200), ("text/html, application/*;q=0.8", 200), ("text/html", 406)],
)
def test_only_json_is_given(accepted: str, status: int, manager: Person) -> None:
    answer = script_of(manager).get("/api/next/", HTTP_ACCEPT=accepted)
    assert answer.status_code == status
    assert answer["Content-Type"] == ("application/json" if status == 200 else "application/problem+json")


def test_head_says_what_get_does_without_a_body(manager: Person, holding: Holding) -> None:
    script = script_of(manager)
    whole, head = script.get("/api/next/"), script.head("/api/next/")
    assert (head.status_code, head.content) == (200, b"")
    assert head["Content-Length"] == whole["Content-Length"]
    assert head["Allow"] == whole["Allow"]
