"""The reasons behind a job's state and dates by API: holds, chain, deadline, what broke and what could still follow."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from core.models import Graph, Holding, Person
from jobs.models import Assignment, Branch, Job, JobState, Prerequisite, Season
from jobs.services.links import add_link
from jobs.services.walking import walk_holding
from plots.models import Plot
from tests.core.world import script_of
from tests.jobs.api.matrix import reckon

pytestmark = pytest.mark.django_db
JobFactory = Callable[..., Job]
NOW = datetime(2026, 4, 2, 14, tzinfo=UTC)  # Thursday, 9:00 in Chicago


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    return holding_factory(name="Home holding", clock_at=NOW)


@pytest.fixture
def ridge(holding: Holding, plot_factory: Callable[..., Plot]) -> Plot:
    return plot_factory(holding, name="Ridge")


def ask(person: Person, job: Job) -> dict[str, Any]:
    answer = script_of(person).get(f"/api/jobs/{job.pk}/why/")
    assert answer.status_code == 200, answer.content
    told: dict[str, Any] = answer.json()
    return told


def link(first: Job, then: Job, **fields: Any) -> Prerequisite:
    return add_link(link=Prerequisite(holding=first.holding, predecessor=first, successor=then, **fields), by=None)


def test_a_hold_names_its_rule_its_source_its_figures_and_what_clears_it(
    manager: Person, holding: Holding, ridge: Plot, job_factory: JobFactory
) -> None:
    spray, till = (job_factory(holding, title, plot=ridge) for title in ("Spray", "Till"))
    wait = link(spray, till, min_amount=10, source="common-practice", worth="common practice")
    script_of(manager).post(
        "/api/reports/",
        {
            "client_id": "0d9a3b54-0a54-4f1b-9a43-000000000001",
            "job": spray.pk,
            "kind": "done",
            "happened_at": "2026-04-01T12:00:00-05:00",
        },
        format="json",
    )
    walk_holding(holding.pk)
    told = ask(manager, till)
    assert told["state"] == "held"
    (hold,) = told["holds"]
    assert hold["kind"] == "lag"
    assert hold["sentence"] == "Waits until Sat 11 Apr 12:00 after: Spray, Ridge (Wed 1 Apr)."
    assert hold["clears"] == "Clears Sat 11 Apr 12:00."
    assert (hold["rule"], hold["source"], hold["worth"]) == (
        f"prerequisite:{wait.pk}", "common-practice", "common practice",
    )  # fmt: skip
    assert hold["inputs"]["predecessor"] == spray.pk
    assert told["earliest_start"] == "2026-04-11T17:00:00Z"
    (step,) = told["chain"]
    assert step["sentence"] == "Till, Ridge begins 10 days or more after Spray, Ridge is done."
    assert (step["prerequisite"], step["source"], step["worth"]) == (wait.pk, "common-practice", "common practice")
    assert told["begins"] == "It counts from a fact: Spray, Ridge was done on Wed 1 Apr."
    assert told["deadline_sentence"] == "No deadline."
    assert told["too_late"] is None
    assert told["reckoned"]["walked_version"] == told["reckoned"]["facts_version"]
    assert told["reckoned"]["at"] == told["reckoned"]["walked_at"] == "2026-04-02T14:00:00Z"


def test_chain_goes_from_the_job_back_to_where_it_begins(
    manager: Person, holding: Holding, ridge: Plot, job_factory: JobFactory
) -> None:
    lime = job_factory(holding, "Lime", plot=ridge, first_day=date(2026, 5, 1))
    till, sow = (job_factory(holding, title, plot=ridge) for title in ("Till", "Sow"))
    link(lime, till, min_amount=3)
    link(till, sow, min_amount=1, relation="SS")
    walk_holding(holding.pk)
    told = ask(manager, sow)
    assert [step["sentence"] for step in told["chain"]] == [
        "Sow, Ridge begins 1 day or more after Till, Ridge is begun.",
        "Till, Ridge begins 3 days or more after Lime, Ridge is done.",
    ]
    assert told["begins"] == "Lime, Ridge cannot begin before Fri 1 May: its own days or a closure say so."


def test_longest_wait_keeps_the_earlier_job_back_and_says_so(
    manager: Person, holding: Holding, ridge: Plot, job_factory: JobFactory
) -> None:
    """Spray at most 14 days before planting, planting not before 1 May: the spray waits until 17 April (D1)."""
    spray = job_factory(holding, "Spray", plot=ridge, duration_min=0)
    plant = job_factory(holding, "Plant", plot=ridge, first_day=date(2026, 5, 1))
    link(spray, plant, max_amount=14, max_unit="days")
    walk_holding(holding.pk)
    told = ask(manager, spray)
    assert told["earliest_start"] == "2026-04-17T05:00:00Z"
    (step,) = told["chain"]
    assert step["sentence"] == (
        "Plant, Ridge begins at most 14 days after Spray, Ridge is done, so the first waits for the second."
    )
    assert told["begins"].startswith("Plant, Ridge cannot begin before Fri 1 May")


def test_missed_deadline_says_what_broke_and_which_wait_a_manager_may_change(
    manager: Person, holding: Holding, ridge: Plot, job_factory: JobFactory
) -> None:
    spray = job_factory(holding, "Spray", plot=ridge)
    till = job_factory(holding, "Till", plot=ridge, deadline=date(2026, 4, 5))
    wait = link(spray, till, min_amount=10, source="common-practice", worth="common practice")
    script_of(manager).post(
        "/api/reports/",
        {
            "client_id": "0d9a3b54-0a54-4f1b-9a43-000000000001",
            "job": spray.pk,
            "kind": "done",
            "happened_at": "2026-04-01T00:00:00-05:00",
        },
        format="json",
    )
    walk_holding(holding.pk)
    told = ask(manager, till)
    assert told["state"] == "lapsed"
    # Earliest 11 April 0:00; to be done by the end of 5 April in 60 minutes, it had to begin on 5 April at 23:00.
    lost = told["too_late"]
    assert lost["short_by_minutes"] == 5 * 1440 + 60
    assert lost["broken"]["prerequisite"] == wait.pk
    assert lost["sentence"] == (
        "It broke here: Till, Ridge begins 10 days or more after Spray, Ridge is done. 5 days 1 h are missing."
    )
    assert lost["ways_out"] == [
        {
            "kind": "lag",
            "id": wait.pk,
            "change_min": 5 * 1440 + 60,
            "sentence": "This wait is common practice, and a manager may change it by 5 days 1 h:"
            " Till, Ridge begins 10 days or more after Spray, Ridge is done.",
        }
    ]
    assert told["deadline_sentence"] == "Too late: it had to start by Sun 5 Apr."


def test_not_begun_in_time_breaks_no_link(
    manager: Person, holding: Holding, ridge: Plot, job_factory: JobFactory
) -> None:
    till = job_factory(holding, "Till", plot=ridge, deadline=date(2026, 4, 1))
    walk_holding(holding.pk)
    lost = ask(manager, till)["too_late"]
    # It had to begin on 1 April at 23:00; it is 2 April 9:00.
    assert lost["sentence"] == "It was not begun by its latest start. 10 h are missing."
    assert (lost["broken"], lost["chain"], lost["ways_out"]) == (None, [], [])


def test_ways_out_name_branches_and_the_outcome_that_opens_one(
    manager: Person, holding: Holding, ridge: Plot, job_factory: JobFactory
) -> None:
    season = Season.objects.create(
        holding=holding, plot=ridge, label="A", year=2026, first_day=date(2026, 3, 1), last_day=date(2026, 9, 1)
    )
    look = job_factory(holding, "Look", plot=ridge, season=season, outcomes=["good", "failed"])
    here = {"holding": holding, "season": season}
    mow = Branch.objects.create(**here, key="mow", name="Mow instead")
    replant = Branch.objects.create(**here, key="replant", name="Replant", opened_by=look, outcomes=["failed"])
    burn = job_factory(holding, "Burn", plot=ridge, season=season, operation="burn")
    ways = [{"kind": "branch", "id": mow.pk, "change_min": None}, {"kind": "outcome", "id": replant.pk}]
    detail = {"too_late": {"chain": [], "broken": None, "ways_out": ways}}
    reckon(burn, state=JobState.LAPSED, latest_start=NOW - timedelta(days=2), detail=detail)
    told = ask(manager, burn)
    assert [way["sentence"] for way in told["too_late"]["ways_out"]] == [
        "Still in time: Mow instead.",
        "Replant would open if Look, Ridge comes out as failed.",
    ]
    assert "fire" in {caution["hazard"] for caution in told["cautions"]}


def test_look_by_last_chance_and_parts_are_told_as_days(
    manager: Person, holding: Holding, ridge: Plot, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Look", plot=ridge)
    at = datetime(2026, 5, 4, 18, tzinfo=UTC)
    detail = {"parts": [{"at": int(NOW.timestamp()) // 60, "acres": 1.5}], "conflict": True, "out_of_order": [3]}
    reckon(job, state=JobState.OPEN, look_by=at, last_chance=at, detail=detail)
    told = ask(manager, job)
    assert told["look_by_sentence"] == "Look by Mon 4 May, or what it may call for is too late."
    assert told["last_chance_sentence"] == "Until Mon 4 May 13:00 it is not too late to begin."
    assert told["notes"] == [
        "1.5 acres were done on Thu 2 Apr.",
        "Another way was done beside this one, though only one of them was called for.",
        "It was done out of order: earlier than a wait before it allowed.",
    ]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({}, "B, Ridge begins after A, Ridge is done."),
        ({"min_amount": -2}, "B, Ridge begins at most 2 days before A, Ridge is done."),
        ({"min_amount": 36, "min_unit": "hours"}, "B, Ridge begins 36 h or more after A, Ridge is done."),
        (
            {"min_amount": 100, "min_unit": "degree_days", "degree_days": "86/50", "confirm": "emerged"},
            "B, Ridge begins 100 degree days (86/50 F) or more after A, Ridge is done,"
            " and a look says that the crop is up.",
        ),
        (
            {"min_amount": 0.5, "min_unit": "rain_in", "min_then_days": 7},
            "B, Ridge begins once 0.5 in of rain on one day and 7 more days came after A, Ridge is done.",
        ),
        ({"relation": "FF", "min_amount": 1}, "B, Ridge is done 1 day or more after A, Ridge is done."),
    ],
)
def test_every_kind_of_wait_has_its_sentence(
    fields: dict[str, Any], sentence: str, manager: Person, holding: Holding, ridge: Plot, job_factory: JobFactory
) -> None:
    first, then = (job_factory(holding, title, plot=ridge) for title in ("A", "B"))
    wait = link(first, then, **fields)
    reckon(first, state=JobState.OPEN)
    reckon(then, state=JobState.HELD, detail={"chain": [wait.pk]})
    assert [step["sentence"] for step in ask(manager, then)["chain"]] == [sentence]


def test_job_of_a_moment_ago_is_walked_before_it_is_explained(
    manager: Person, holding: Holding, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Till")
    assert ask(manager, job)["state"] == "open"
    assert Graph.objects.get(holding=holding).walked_version == 1


def test_link_that_left_since_the_walk_is_not_told(
    manager: Person, holding: Holding, ridge: Plot, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Till", plot=ridge)
    reckon(job, state=JobState.HELD, detail={"chain": [987_654_321]})
    assert ask(manager, job)["chain"] == []


def test_helper_asks_why_of_own_jobs_alone(helper_person: Person, holding: Holding, job_factory: JobFactory) -> None:
    mine, other = job_factory(holding, "Mine"), job_factory(holding, "Other")
    for job in (mine, other):
        reckon(job, state=JobState.OPEN)
    Assignment.objects.create(holding=holding, job=mine, person=helper_person)
    assert ask(helper_person, mine)["title"] == "Mine"
    assert script_of(helper_person).get(f"/api/jobs/{other.pk}/why/").status_code == 404
