"""Jobs by API: filters, one job, single jobs with what they usually take along, changes, call-offs."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoAssertNumQueries

from core.models import Crew, CrewMember, Event, Holding, Person
from jobs.models import Assignment, Branch, Job, JobState, Need, Season, Sequence
from plots.models import Plot
from tests.core.world import World, script_of
from tests.jobs.api.matrix import reckon

pytestmark = pytest.mark.django_db
JobFactory = Callable[..., Job]


def listed(script: object, **query: object) -> list[str]:
    answer = script.get("/api/jobs/", query)  # type: ignore[attr-defined]
    assert answer.status_code == 200, answer.content
    return [job["title"] for job in answer.json()["results"]]


def test_list_is_narrowed_by_each_of_its_filters(
    manager: Person, holding: Holding, job_factory: JobFactory, plot_factory: Callable[..., Plot]
) -> None:
    here, there = plot_factory(holding), plot_factory(holding)
    sequence = Sequence.objects.create(holding=holding, key="oats", name="Oats", document={})
    season = Season.objects.create(
        holding=holding, plot=here, sequence=sequence, label="A", year=2026,
        first_day=date(2026, 4, 1), last_day=date(2026, 8, 1),
    )  # fmt: skip
    branch = Branch.objects.create(holding=holding, season=season, key="b")
    crew = Crew.objects.create(holding=holding, name="Crew")
    CrewMember.objects.create(holding=holding, crew=crew, person=manager)
    till = job_factory(
        holding, "Till", plot=here, season=season, branch=branch,
        first_day=date(2026, 4, 1), last_day=date(2026, 4, 20), deadline=date(2026, 4, 18),
    )  # fmt: skip
    mow = job_factory(holding, "Mow", plot=there, operation="mow", first_day=date(2026, 6, 1))
    reckon(till, state=JobState.OPEN)
    reckon(mow, state=JobState.HELD)
    Assignment.objects.create(holding=holding, job=mow, crew=crew)
    script = script_of(manager)
    assert listed(script) == ["Till", "Mow"]
    assert listed(script, property=here.property_id) == ["Till"]
    assert listed(script, plot=there.pk) == ["Mow"]
    assert listed(script, operation="mow") == ["Mow"]
    assert listed(script, state="open") == ["Till"]
    assert listed(script, state=["open", "held"]) == ["Till", "Mow"]
    assert listed(script, person=manager.pk) == ["Mow"]
    assert listed(script, season=season.pk) == ["Till"]
    assert listed(script, branch=branch.pk) == ["Till"]
    assert listed(script, sequence="oats") == ["Till"]
    assert listed(script, year=2026) == ["Till"]
    assert listed(script, first_day__gte="2026-05-01") == ["Mow"]
    assert listed(script, last_day__lte="2026-04-20") == ["Till"]
    assert listed(script, deadline__lte="2026-04-17") == []


def test_changed_since_tells_what_a_person_or_a_walk_changed(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    long_ago, lately = datetime(2020, 1, 1, tzinfo=UTC), datetime(2026, 4, 1, tzinfo=UTC)
    edited, reckoned, still = (job_factory(holding, title) for title in ("Edited", "Reckoned", "Still"))
    for job in (edited, reckoned, still):
        reckon(job, state=JobState.OPEN, changed_at=lately if job == reckoned else long_ago)
        Job.objects.filter(pk=job.pk).update(changed_at=lately if job == edited else long_ago)
    assert listed(script_of(manager), changed_since="2026-03-01T00:00:00Z") == ["Edited", "Reckoned"]


def test_filter_by_an_id_of_another_holding_finds_nothing(world: World) -> None:
    away, script = world.away, world.clients["manager"]
    ids = {name: away.id(name) for name in ("property", "plot", "season", "branch", "round")}
    for name, pk in {**ids, "person": away.helper.pk}.items():
        assert listed(script, **{name: pk}) == listed(script, **{name: 987_654_321}) == []


def test_one_job_carries_its_answer_and_its_cautions(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    burn = job_factory(holding, "Burn", operation="burn", acres=5.0)
    script = script_of(manager)
    before = script.get(f"/api/jobs/{burn.pk}/").json()
    assert before["answer"] is None, "no walk has reckoned it yet"
    assert "fire" in {caution["hazard"] for caution in before["cautions"]}
    reckon(burn, state=JobState.OPEN, latest_start=datetime(2026, 4, 5, 18, tzinfo=UTC))
    told = script.get(f"/api/jobs/{burn.pk}/?units=metric").json()
    assert told["answer"]["state_word"] == "open"
    assert told["answer"]["deadline_sentence"].startswith("Start by Sun 5 Apr")
    assert told["answer"]["area"] == {"value": 2.02, "unit": "ha"}


def test_list_costs_the_same_queries_whatever_its_length(
    manager: Person, holding: Holding, job_factory: JobFactory, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    script = script_of(manager)
    reckon(job_factory(holding, "First"), state=JobState.OPEN)
    listed(script)
    with CaptureQueriesContext(connection) as short:
        listed(script)
    for number in range(30):
        reckon(job_factory(holding, f"Job {number}"), state=JobState.OPEN)
    with django_assert_num_queries(len(short)):
        assert len(listed(script)) == 31


def test_pages_are_bounded(manager: Person, holding: Holding, job_factory: JobFactory) -> None:
    for number in range(3):
        job_factory(holding, f"Job {number}")
    told = script_of(manager).get("/api/jobs/", {"page_size": 2, "page": 2}).json()
    assert (told["count"], [job["title"] for job in told["results"]]) == (3, ["Job 2"])


def test_a_single_burn_asks_for_the_skill_that_a_burn_in_a_sequence_asks_for(
    manager: Person, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    plot = plot_factory(holding)
    body = {"plot": plot.pk, "operation": "burn", "title": "Burn the corner", "duration_min": 120, "acres": 1.5}
    answer = script_of(manager).post("/api/jobs/", body, format="json")
    assert answer.status_code == 201
    job = Job.objects.get(pk=answer.json()["id"])
    assert job.component == job.pk
    assert "skill" in Need.objects.filter(job=job).values_list("kind", flat=True)
    assert Event.objects.filter(object="job", object_id=job.pk, verb="added", person=manager).exists()


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"operation": "conjure"}, "#/operation"),
        ({"hazards": ["dragons"]}, "#/hazards"),
        ({"duration_min": -1}, "#/duration_min"),
        ({"acres": 0}, "#"),
        ({"first_day": "2026-05-02", "last_day": "2026-05-01"}, "#"),
    ],
)
def test_job_that_cannot_be_is_refused_in_plain_words(
    wrong: dict[str, object], pointer: str, manager: Person, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    body = {"plot": plot_factory(holding).pk, "operation": "till", "title": "Till", "duration_min": 60} | wrong
    answer = script_of(manager).post("/api/jobs/", body, format="json")
    assert answer.status_code == 400, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    assert [error["pointer"] for error in answer.json()["errors"]] in ([pointer], [])
    assert answer.json()["detail"].endswith(".")
    assert not Job.objects.exists()


def test_change_raises_the_version_and_leaves_the_rest(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Till", acres=3.0)
    url, script = f"/api/jobs/{job.pk}/", script_of(manager)
    body = {"title": "Till twice", "deadline": "2026-05-01", "duration_min": 75, "acres": 2.5, "instruction": "Slowly."}
    told = script.patch(url, body, format="json").json()
    assert {name: told[name] for name in body} == body
    assert told["version"] == 2
    for name, value in (("plot", job.plot_id), ("operation", "burn"), ("hazards", []), ("season", 1)):
        answer = script.patch(url, {name: value}, format="json")
        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, f"#/{name}")
    job.refresh_from_db()
    assert (job.operation, job.version) == ("till", 2)


def test_called_off_twice_is_called_off_once(manager: Person, holding: Holding, job_factory: JobFactory) -> None:
    job = job_factory(holding, "Till")
    script = script_of(manager)
    first = script.post(f"/api/jobs/{job.pk}/call-off/", {}, format="json").json()["called_off_at"]
    assert first is not None
    assert script.post(f"/api/jobs/{job.pk}/call-off/").json()["called_off_at"] == first
    assert Event.objects.filter(object="job", verb="called off").count() == 1


def test_helper_and_viewer_change_nothing(world: World) -> None:
    url = f"/api/jobs/{world.home.id('job')}/"
    for asker in ("helper", "viewer"):
        assert world.clients[asker].get(url).status_code == 200
        assert world.clients[asker].patch(url, {"title": "Mine"}, format="json").status_code == 403
        assert world.clients[asker].post(f"{url}call-off/", {}, format="json").status_code == 403


def test_days_of_a_job_are_read_as_days(manager: Person, holding: Holding, job_factory: JobFactory) -> None:
    job = job_factory(holding, "Till", first_day=date(2026, 4, 1), last_day=date(2026, 4, 1) + timedelta(days=3))
    told = script_of(manager).get(f"/api/jobs/{job.pk}/").json()
    assert (told["first_day"], told["last_day"]) == ("2026-04-01", "2026-04-04")
