"""Reports, assignments and written reasons by API."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from core.models import Crew, CrewMember, Event, Graph, Holding, Person
from jobs.models import Assignment, Job, JobState, Observation, Override, Report
from plots.models import Machine, MachineState, Plot
from tests.core.world import World, script_of
from tests.jobs.api.matrix import MACHINE_HOLD, reckon

pytestmark = pytest.mark.django_db
JobFactory = Callable[..., Job]
NOW = datetime(2026, 4, 2, 14, tzinfo=UTC)


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    return holding_factory(name="Home holding", clock_at=NOW)


def report(job: Job | None, kind: str = "done", number: int = 1, **fields: Any) -> dict[str, Any]:
    return {
        "client_id": f"0d9a3b54-0a54-4f1b-9a43-{number:012d}",
        "job": job.pk if job is not None else None,
        "kind": kind,
        "happened_at": "2026-04-02T08:30:00-05:00",
        **fields,
    }


def send(person: Person, body: dict[str, Any]) -> Any:
    return script_of(person).post("/api/reports/", body, format="json")


# reports


def test_the_same_report_again_is_one_report_with_one_receipt(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    body = report(job_factory(holding, "Till", acres=2.0), acres=1.5)
    answers = [send(manager, body) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [201, 201, 201]
    assert len({answer.content for answer in answers}) == 1
    receipt = answers[0].json()
    assert set(receipt) == {"id", "client_id", "facts_version", "clashes", "clock_set_back"}
    assert receipt["facts_version"] == Graph.objects.get(holding=holding).facts_version
    assert Report.objects.count() == 1


def test_the_same_moment_written_in_another_zone_is_the_same_report(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    body = report(job_factory(holding, "Till"))
    first = send(manager, body)
    again = send(manager, {**body, "happened_at": "2026-04-02T13:30:00Z"})
    assert (again.status_code, again.content) == (201, first.content)


def test_another_content_under_a_known_id_is_refused_and_the_first_stays(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Till", acres=2.0)
    known = send(manager, report(job, acres=1.0)).json()["id"]
    answer = send(manager, report(job, acres=2.0))
    assert answer.status_code == 422
    assert answer.json()["type"].endswith("/other_content")
    assert answer.json()["facts"] == {"report": known}
    assert Report.objects.get().acres == 1.0


def test_an_id_belongs_to_the_person_who_made_it(
    manager: Person, helper_person: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Till")
    Assignment.objects.create(holding=holding, job=job, person=helper_person)
    assert send(manager, report(job)).status_code == send(helper_person, report(job)).status_code == 201
    assert Report.objects.count() == 2


def test_clash_is_told_inside_the_receipt_and_stored_all_the_same(
    manager: Person, helper_person: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Till", called_off_at=NOW)
    Assignment.objects.create(holding=holding, job=job, person=helper_person)
    send(manager, report(job))
    answer = send(helper_person, report(job, number=2))
    assert answer.status_code == 201
    assert answer.json()["clashes"] == [
        "This job was called off. The report is kept and shown beside that.",
        "Manager of home reported this job done on Thu 2 Apr. Both are kept.",
    ]


def test_helper_reports_on_what_they_see_or_once_held_and_on_nothing_else(
    helper_person: Person, holding: Holding, job_factory: JobFactory, world: World
) -> None:
    mine, once, never = (job_factory(holding, title) for title in ("Mine", "Once mine", "Never mine"))
    Assignment.objects.create(holding=holding, job=mine, person=helper_person)
    Assignment.objects.create(holding=holding, job=once, person=helper_person, state="ended")
    assert send(helper_person, report(mine, number=1)).status_code == 201
    assert send(helper_person, report(once, number=2)).status_code == 201
    told = [
        send(helper_person, {**report(never, number=3), "job": pk})
        for pk in (never.pk, world.home.id("job"), 987_654_321)
    ]
    assert [answer.status_code for answer in told] == [404, 404, 404]
    assert told[0].content == told[1].content == told[2].content
    assert "given to others, at a property that your crews do not look after" in told[0].json()["detail"]


def test_viewer_reports_nothing(viewer: Person, holding: Holding, job_factory: JobFactory) -> None:
    assert send(viewer, report(job_factory(holding, "Till"))).status_code == 403


def test_report_only_token_reaches_next_jobs_and_own_reports_alone(
    helper_person: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Till")
    Assignment.objects.create(holding=holding, job=job, person=helper_person)
    script = script_of(helper_person, "report")
    assert script.post("/api/reports/", report(job), format="json").status_code == 201
    assert script.get("/api/reports/").json()["count"] == 1
    assert script.get("/api/next/").status_code == 200
    for path in ("jobs", f"jobs/{job.pk}", f"jobs/{job.pk}/why", "progress", "assignments", "observations"):
        assert script.get(f"/api/{path}/").status_code == 403, path


def test_own_reports_are_listed_and_a_manager_sees_all(
    manager: Person, helper_person: Person, holding: Holding, job_factory: JobFactory
) -> None:
    till, mow = job_factory(holding, "Till"), job_factory(holding, "Mow")
    Assignment.objects.create(holding=holding, job=till, person=helper_person)
    send(helper_person, report(till, kind="start", number=1))
    send(manager, report(mow, number=2))
    assert script_of(helper_person).get("/api/reports/").json()["count"] == 1
    script = script_of(manager)
    assert [line["job"] for line in script.get("/api/reports/").json()["results"]] == [mow.pk, till.pk]
    assert script.get("/api/reports/", {"kind": "start"}).json()["results"][0]["person"] == helper_person.pk
    assert script.get("/api/reports/", {"job": mow.pk, "person": helper_person.pk}).json()["count"] == 0
    assert script.get("/api/reports/", {"received_at__gte": "2026-04-03T00:00:00Z"}).json()["count"] == 0


@pytest.mark.parametrize(
    ("wrong", "status", "pointer"),
    [
        ({"kind": "finished"}, 400, "#/kind"),
        ({"client_id": "7"}, 400, "#/client_id"),
        ({"happened_at": "2026-04-02T08:30:00"}, 400, "#/happened_at"),
        ({"acres": -1}, 400, "#"),
        ({"acres": 99}, 422, "#/acres"),
        ({"payload": {"a": 1}}, 400, "#/payload"),
        ({"outcome": "splendid"}, 422, "#/outcome"),
        ({"kind": "withdrawn"}, 422, "#/corrects"),
        ({"corrects": 987_654_321}, 404, "#/corrects"),
        ({"job": None, "plot": None}, 404, "#/plot"),
        ({"machine": 987_654_321}, 404, "#/machine"),
    ],
)
def test_report_that_makes_no_sense_is_refused_and_nothing_is_stored(
    wrong: dict[str, Any], status: int, pointer: str, manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Look", acres=2.0, outcomes=["good", "failed"])
    answer = send(manager, report(job, outcome="good") | wrong)
    assert answer.status_code == status, answer.content
    assert [error["pointer"] for error in answer.json()["errors"]] in ([pointer], [])
    assert answer["Content-Type"] == "application/problem+json"
    assert not Report.objects.exists()


def test_a_report_about_no_job_is_corrected_inside_its_holding_only(
    manager: Person, holding: Holding, plot_factory: Callable[..., Plot], world: World
) -> None:
    foreign = Report.objects.create(
        holding=world.home.holding, person=world.home.manager, client_id="0d9a3b54-0a54-4f1b-9a43-000000000099",
        plot=world.home.things["field"], kind="seen", outcome="emerged", happened_at=NOW, received_at=NOW,
        body_sha256="0" * 64,
    )  # fmt: skip
    body = report(None, kind="seen", outcome="emerged", plot=plot_factory(holding).pk)
    assert send(manager, {**body, "corrects": foreign.pk}).status_code == 404
    assert send(manager, body).status_code == 201


def test_what_was_seen_is_kept_with_its_figure(
    manager: Person, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    plot = plot_factory(holding)
    assert send(manager, report(None, kind="seen", plot=plot.pk, outcome="stand", value=27.5)).status_code == 201
    (seen,) = script_of(manager).get("/api/observations/", {"plot": plot.pk}).json()["results"]
    assert (seen["kind"], seen["value"], seen["at"]) == ("stand", 27.5, "2026-04-02T13:30:00Z")
    assert Observation.objects.count() == 1


def test_machine_that_failed_is_named_and_down(manager: Person, holding: Holding, job_factory: JobFactory) -> None:
    job = job_factory(holding, "Plant")
    job.needs.create(holding=holding, kind="machine", name="planter")
    machines = [Machine.objects.create(holding=holding, name=name, kind="planter") for name in ("Red", "Green")]
    body = report(job, kind="could_not", reason="machine", machine=machines[1].pk)
    assert send(manager, body).status_code == 201
    assert [Machine.objects.get(pk=row.pk).state for row in machines] == [MachineState.WORKS, MachineState.DOWN]


# assignments


def give(manager: Person, **body: Any) -> Any:
    return script_of(manager).post("/api/assignments/", body, format="json")


def test_nobody_is_at_two_places_at_one_time(
    manager: Person, helper_person: Person, holding: Holding, job_factory: JobFactory
) -> None:
    till, mow = job_factory(holding, "Till"), job_factory(holding, "Mow")
    crew = Crew.objects.create(holding=holding, name="Crew")
    CrewMember.objects.create(holding=holding, crew=crew, person=helper_person)
    day = {"day": "2026-04-04", "starts": "08:00", "ends": "10:00"}
    first = give(manager, job=till.pk, person=helper_person.pk, **day)
    assert first.status_code == 201
    through_crew = give(manager, job=mow.pk, crew=crew.pk, **{**day, "starts": "09:30", "ends": "11:00"})
    assert through_crew.status_code == 409
    assert through_crew.json()["detail"].startswith(f"Helper of home is at Till, {till.plot.name} from 08:00 to 10:00")
    assert through_crew.json()["facts"] == {"assignment": first.json()["id"]}
    assert give(manager, job=mow.pk, crew=crew.pk, **{**day, "starts": "10:00", "ends": "11:00"}).status_code == 201


def test_who_looks_or_left_is_given_nothing(
    manager: Person, viewer: Person, holding: Holding, job_factory: JobFactory, person_factory: Callable[..., Person]
) -> None:
    job, gone = job_factory(holding, "Till"), person_factory(holding, active=False)
    for person in (viewer, gone):
        answer = give(manager, job=job.pk, person=person.pk)
        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "#/person")


def test_what_is_over_is_given_to_nobody(manager: Person, holding: Holding, job_factory: JobFactory) -> None:
    done, off = job_factory(holding, "Till"), job_factory(holding, "Mow", called_off_at=NOW)
    reckon(done, state=JobState.DONE)
    for job in (done, off):
        answer = give(manager, job=job.pk, person=manager.pk)
        assert (answer.status_code, answer.json()["type"].rpartition("/")[2]) == (422, "over")


@pytest.mark.parametrize(
    "wrong",
    [
        {},
        {"person": True},
        {"starts": "08:00", "ends": "10:00"},
        {"day": "2026-04-04", "starts": "10:00", "ends": "08:00"},
        {"day": "2026-04-04", "starts": "10:00"},
    ],
)
def test_assignment_that_cannot_be_is_refused(
    wrong: dict[str, Any], manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    who = {"person": manager.pk} if wrong else {}
    answer = give(manager, **{"job": job_factory(holding, "Till").pk, **who, **wrong})
    assert answer.status_code == 400, answer.content
    assert not Assignment.objects.exists()


def test_ended_assignment_stays_and_frees_the_hours(
    manager: Person, helper_person: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Till")
    made = give(manager, job=job.pk, person=helper_person.pk).json()["id"]
    again = give(manager, job=job.pk, person=helper_person.pk)
    assert (again.status_code, again.json()["detail"]) == (400, "The job is this person's already.")
    script = script_of(manager)
    assert script.delete(f"/api/assignments/{made}/").status_code == 204
    assert script.delete(f"/api/assignments/{made}/").status_code == 204
    row = script.get(f"/api/assignments/{made}/").json()
    assert (row["state"], row["ended_at"]) == ("ended", "2026-04-02T14:00:00Z")
    assert Event.objects.filter(object="assignment", verb="ended").count() == 1
    assert give(manager, job=job.pk, person=helper_person.pk).status_code == 201


def test_helper_reads_own_assignments_and_those_of_own_crews(
    manager: Person, helper_person: Person, holding: Holding, job_factory: JobFactory
) -> None:
    crew = Crew.objects.create(holding=holding, name="Crew")
    CrewMember.objects.create(holding=holding, crew=crew, person=helper_person)
    give(manager, job=job_factory(holding, "Till").pk, person=manager.pk)
    give(manager, job=job_factory(holding, "Mow").pk, crew=crew.pk)
    rows = script_of(helper_person).get("/api/assignments/").json()["results"]
    assert [row["crew"] for row in rows] == [crew.pk]


# written reasons


def held_by_a_machine(holding: Holding, job_factory: JobFactory) -> Job:
    job = job_factory(holding, "Plant")
    reckon(job, state=JobState.HELD, holds=[MACHINE_HOLD])
    return job


def test_written_reason_sets_a_hold_aside_until_its_end(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job, script = held_by_a_machine(holding, job_factory), script_of(manager)
    body = {"job": job.pk, "rule": "machine", "reason": "The neighbour lends one.", "until": "2026-04-05T00:00:00Z"}
    made = script.post("/api/overrides/", body, format="json").json()
    assert (made["person"], made["at"], made["until"]) == (manager.pk, "2026-04-02T14:00:00Z", "2026-04-05T00:00:00Z")
    url = f"/api/overrides/{made['id']}/"
    assert script.patch(url, {"reason": "Another"}, format="json").status_code == 400
    assert script.patch(url, {"until": "2026-04-02T13:00:00Z"}, format="json").status_code == 400
    assert script.patch(url, {"until": "2026-04-03T00:00:00Z"}, format="json").json()["until"] == "2026-04-03T00:00:00Z"
    assert script.delete(url).status_code == 405


def test_order_waits_law_and_consent_are_not_set_aside(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job, script = held_by_a_machine(holding, job_factory), script_of(manager)
    for rule in ("predecessor", "lag", "season", "contract", "consent", "skill", "quiet", "anything"):
        body = {"job": job.pk, "rule": rule, "reason": "Because."}
        assert script.post("/api/overrides/", body, format="json").status_code == 400, rule
    assert not Override.objects.exists()


def test_reason_against_a_hold_that_is_not_there_is_refused(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job, script = held_by_a_machine(holding, job_factory), script_of(manager)
    answer = script.post("/api/overrides/", {"job": job.pk, "rule": "sprayed", "reason": "Because."}, format="json")
    assert answer.status_code == 422
    assert answer.json()["detail"] == "No 'sprayed' holds this job. It is held by: machine."


@pytest.mark.parametrize("wrong", [{"reason": ""}, {"reason": "   "}, {"until": "2026-04-01T00:00:00Z"}])
def test_reason_is_written_and_ends_after_it_begins(
    wrong: dict[str, Any], manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job = held_by_a_machine(holding, job_factory)
    body = {"job": job.pk, "rule": "machine", "reason": "Lent.", **wrong}
    assert script_of(manager).post("/api/overrides/", body, format="json").status_code == 400


def test_end_of_a_reason_may_be_its_own_beginning(manager: Person, holding: Holding, job_factory: JobFactory) -> None:
    job, script = held_by_a_machine(holding, job_factory), script_of(manager)
    body = {"job": job.pk, "rule": "machine", "reason": "Lent."}
    made = script.post("/api/overrides/", body, format="json").json()
    ended = script.patch(f"/api/overrides/{made['id']}/", {"until": NOW.isoformat()}, format="json")
    assert ended.status_code == 200
    assert Override.objects.get().until == NOW < NOW + timedelta(1)
