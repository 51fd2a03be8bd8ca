"""Reports by the service: what a correction and a withdrawal take back, and where a helper may report."""

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.db.models import Sum

from core.errors import NotAllowed, NotFound, Refused
from core.models import Crew, CrewMember, Holding, Person
from core.services.people import save_crew
from core.services.rows import remove_row
from jobs.models import Assignment, Branch, Job, Need, Observation, Prerequisite, Reckoning, Report, Season
from jobs.selectors.held import held_once
from jobs.selectors.visible import visible_jobs
from jobs.services.assigning import assign_job, end_assignment
from jobs.services.reports import NewReport, store_report
from jobs.services.walking import walk_holding
from plots.models import CrewProperty, Lot, Material, Plot, StockMove

SATURDAY = datetime(2027, 5, 8, 17, 0, tzinfo=UTC)


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    """A holding whose clock stands on a Saturday noon."""
    return holding_factory(zone="America/Chicago", clock_at=SATURDAY)


@pytest.fixture
def lime(holding: Holding) -> Material:
    """Ten tons of lime in stock."""
    lime = Material.objects.create(holding=holding, name="Lime", kind="lime", unit="ton")
    StockMove.objects.create(holding=holding, material=lime, quantity=10.0, at=SATURDAY)
    return lime


@pytest.fixture
def spread(holding: Holding, lime: Material, job_factory: Callable[..., Job]) -> Job:
    """Four acres to be limed with one ton an acre."""
    job = job_factory(holding, "Lime", operation="lime", acres=4.0)
    Need.objects.create(holding=holding, job=job, kind="material", name="lime", material=lime, rate_per_acre=1.0)
    return job


def report(person: Person, kind: str, **fields: Any) -> dict[str, Any]:
    new = NewReport(client_id=uuid.uuid4(), kind=kind, happened_at=SATURDAY, **fields)
    return store_report(person=person, new=new, now=SATURDAY)


def stock(lime: Material) -> float:
    total: float = StockMove.objects.filter(material=lime).aggregate(total=Sum("quantity"))["total"]
    return total


def test_a_withdrawn_report_puts_back_what_it_took(manager: Person, lime: Material, spread: Job) -> None:
    done = report(manager, "done", job=spread.pk)
    assert stock(lime) == 6.0
    report(manager, "withdrawn", job=spread.pk, corrects=done["id"])
    assert stock(lime) == 10.0


def test_of_two_corrections_of_one_report_the_later_stands_alone(manager: Person, lime: Material, spread: Job) -> None:
    """Two acres, put right to 2.5 and again to 3: three acres are done, not five and a half."""
    first = report(manager, "done", job=spread.pk, acres=2.0)
    report(manager, "done", job=spread.pk, acres=2.5, corrects=first["id"])
    last = report(manager, "done", job=spread.pk, acres=3.0, corrects=first["id"])
    assert last["clashes"] == ["That report was corrected before. This one takes the place of the last correction."]
    assert stock(lime) == 7.0
    walk_holding(spread.holding_id)
    found = Reckoning.objects.get(pk=spread.pk)
    assert (found.state, found.acres_done) == ("under_way", 3.0)


def test_two_needs_of_one_material_are_one_movement_and_a_part_takes_its_part(
    manager: Person, holding: Holding, lime: Material, spread: Job
) -> None:
    """1 ton an acre and 2 tons in all: of one acre in four 1.5 tons, of the rest 4.5."""
    Need.objects.create(holding=holding, job=spread, kind="material", name="more lime", material=lime, amount=2.0)
    report(manager, "could_not", job=spread.pk, acres=1.0, reason="wet")
    assert stock(lime) == 8.5
    report(manager, "done", job=spread.pk)
    assert stock(lime) == 4.0


def test_work_without_acres_takes_its_fixed_amount_once(
    manager: Person, holding: Holding, lime: Material, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding, "Mark", operation="desk", acres=None)
    Need.objects.create(holding=holding, job=job, kind="material", name="lime", material=lime, amount=0.5)
    report(manager, "done", job=job.pk)
    report(manager, "done", job=job.pk)
    assert stock(lime) == 9.5


def test_a_report_that_names_its_lot_takes_from_that_lot_and_gives_back_to_it(
    manager: Person, holding: Holding, lime: Material, spread: Job
) -> None:
    lot = Lot.objects.create(holding=holding, material=lime, number="L1")
    done = report(manager, "done", job=spread.pk, payload={"lot": lot.pk})
    assert StockMove.objects.filter(lot=lot).aggregate(total=Sum("quantity"))["total"] == -4.0
    report(manager, "withdrawn", job=spread.pk, corrects=done["id"])
    assert StockMove.objects.filter(lot=lot).aggregate(total=Sum("quantity"))["total"] == 0.0


def test_a_job_reported_done_by_two_people_uses_its_material_once(
    manager: Person, helper_person: Person, holding: Holding, lime: Material, spread: Job
) -> None:
    crew = Crew.objects.create(holding=holding, name="Everybody")
    CrewMember.objects.create(holding=holding, crew=crew, person=helper_person)
    report(manager, "done", job=spread.pk)
    report(helper_person, "done", job=spread.pk)
    assert stock(lime) == 6.0


def test_a_report_of_a_plot_corrects_none_of_another_plot(
    manager: Person, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    here, there = plot_factory(holding), plot_factory(holding)
    seen = report(manager, "seen", plot=here.pk, outcome="emerged")
    with pytest.raises(NotFound, match="to be corrected"):
        report(manager, "withdrawn", plot=there.pk, corrects=seen["id"])


def test_a_helper_reports_on_plots_where_the_crew_works(
    holding: Holding, helper_person: Person, plot_factory: Callable[..., Plot], job_factory: Callable[..., Job]
) -> None:
    ours, theirs = plot_factory(holding), plot_factory(holding)
    crew = Crew.objects.create(holding=holding, name="North crew")
    CrewMember.objects.create(holding=holding, crew=crew, person=helper_person)
    CrewProperty.objects.create(holding=holding, crew=crew, property=ours.property)
    for plot in (ours, theirs):
        job_factory(holding, plot=plot)
    report(helper_person, "seen", plot=ours.pk, outcome="emerged")
    with pytest.raises(NotFound):
        report(helper_person, "seen", plot=theirs.pk, outcome="emerged")


def test_what_was_taken_back_does_not_count_as_done_when_the_rest_is_reported(
    manager: Person, lime: Material, spread: Job
) -> None:
    """Two acres withdrawn, three put right to one: of four acres three are left for a report without a figure."""
    taken = report(manager, "done", job=spread.pk, acres=2.0)
    report(manager, "withdrawn", job=spread.pk, corrects=taken["id"])
    wrong = report(manager, "done", job=spread.pk, acres=3.0)
    report(manager, "done", job=spread.pk, acres=1.0, corrects=wrong["id"])
    assert stock(lime) == 9.0
    report(manager, "done", job=spread.pk)
    assert stock(lime) == 6.0


def test_a_helper_takes_back_what_is_their_own_and_a_manager_anything(
    manager: Person, helper_person: Person, holding: Holding, spread: Job
) -> None:
    Assignment.objects.create(holding=holding, job=spread, person=helper_person)
    own = report(helper_person, "done", job=spread.pk, acres=1.0)
    managers = report(manager, "done", job=spread.pk, acres=1.0)
    with pytest.raises(NotAllowed, match="your own reports only"):
        report(helper_person, "withdrawn", job=spread.pk, corrects=managers["id"])
    with pytest.raises(NotAllowed, match="your own reports only"):
        report(helper_person, "done", job=spread.pk, acres=2.0, corrects=managers["id"])
    report(helper_person, "done", job=spread.pk, acres=1.5, corrects=own["id"])
    report(manager, "done", job=spread.pk, acres=1.25, corrects=own["id"])
    with pytest.raises(NotAllowed, match="put this report right since"):
        report(helper_person, "withdrawn", job=spread.pk, corrects=own["id"])


@pytest.mark.parametrize("outcome", ["emerged", "not_emerged", "not_delivered", "stand", "fence_up", "not_fence_up"])
def test_what_the_reference_or_a_wait_of_the_holding_knows_can_be_seen(
    outcome: str, manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    first, then = job_factory(holding), job_factory(holding)
    Prerequisite.objects.create(holding=holding, predecessor=first, successor=then, confirm="fence_up")
    report(manager, "seen", job=first.pk, outcome=outcome)
    assert Observation.objects.get().kind == outcome


def test_what_closes_nothing_is_not_seen_but_named(
    manager: Person, holding: Holding, other_holding: Holding, job_factory: Callable[..., Job]
) -> None:
    first, then = job_factory(other_holding), job_factory(other_holding)
    Prerequisite.objects.create(holding=other_holding, predecessor=first, successor=then, confirm="fence_up")
    for outcome in ("emergd", "fence_up"):
        with pytest.raises(Refused, match=r"nothing that can be seen here\. Give one of: approved, ") as refusal:
            report(manager, "seen", job=job_factory(holding).pk, outcome=outcome)
        assert refusal.value.field == "outcome"
        assert "emerged" in refusal.value.facts["kinds"]
        assert "fence_up" not in refusal.value.facts["kinds"]
    assert not Report.objects.exists()


@pytest.mark.parametrize("kind", ["start", "done", "could_not", "skipped"])
def test_work_told_of_what_was_called_off_or_done_by_another_is_kept_and_clashes(
    kind: str, manager: Person, helper_person: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding, "Till", called_off_at=SATURDAY)
    Assignment.objects.create(holding=holding, job=job, person=helper_person)
    report(manager, "done", job=job.pk)
    assert report(helper_person, kind, job=job.pk)["clashes"] == [
        "This job was called off. The report is kept and shown beside that.",
        "Manager of home reported this job done on Sat 8 May. Both are kept.",
    ]


def test_what_another_took_back_is_no_clash(
    manager: Person, helper_person: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding, "Till")
    Assignment.objects.create(holding=holding, job=job, person=helper_person)
    wrong = report(manager, "done", job=job.pk)
    report(manager, "withdrawn", job=job.pk, corrects=wrong["id"])
    assert report(helper_person, "done", job=job.pk)["clashes"] == []


@pytest.mark.parametrize("what", ["season", "branch"])
def test_a_job_called_off_with_its_season_or_branch_clashes_too(
    what: str, manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding, "Till")
    season = Season.objects.create(
        holding=holding, plot=job.plot, label="2027", year=2027, first_day="2027-03-01", last_day="2027-10-31",
        called_off_at=SATURDAY if what == "season" else None,
    )  # fmt: skip
    off = {"called_off_at": SATURDAY} if what == "branch" else {}
    outer = Branch.objects.create(holding=holding, season=season, key="a", name="A", order=1, **off)
    inner = Branch.objects.create(holding=holding, season=season, key="b", name="B", order=2, parent=outer)
    Job.objects.filter(pk=job.pk).update(season=season, branch=inner)
    assert report(manager, "done", job=job.pk)["clashes"][0].startswith("This job was called off.")


# who held the job once


@pytest.fixture
def crew(holding: Holding, manager: Person, helper_person: Person) -> Crew:
    """A crew of the helper, made as a manager makes it."""
    return save_crew(crew=Crew(holding=holding, name="North crew"), by=manager, members=[helper_person])


def hidden(person: Person, job: Job) -> bool:
    return not visible_jobs(person).filter(pk=job.pk).exists()


def take_from_the_crew(job: Job, manager: Person, way: str, crew: Crew) -> None:
    """Hide the job from the helper."""
    if way == "the helper left":
        save_crew(crew=crew, by=manager, members=[])
    elif way == "the crew is gone":
        remove_row(row=crew, by=manager)
    else:
        end_assignment(assignment=Assignment.objects.get(job=job), by=manager, now=SATURDAY)
        assign_job(holding_id=job.holding_id, job_id=job.pk, by=manager, person_id=manager.pk)
        if way == "ended, then the helper left":
            save_crew(crew=crew, by=manager, members=[])


@pytest.mark.parametrize("way", ["the helper left", "the crew is gone", "ended", "ended, then the helper left"])
def test_who_held_the_job_with_a_crew_reports_later(
    way: str, manager: Person, helper_person: Person, crew: Crew, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(crew.holding)
    assign_job(holding_id=job.holding_id, job_id=job.pk, by=manager, crew_id=crew.pk)
    take_from_the_crew(job, manager, way, crew)
    assert hidden(helper_person, job)
    assert report(helper_person, "done", job=job.pk)["id"]


def test_who_left_the_crew_before_it_had_the_job_reports_nothing(
    manager: Person, helper_person: Person, crew: Crew, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(crew.holding)
    save_crew(crew=crew, by=manager, members=[])
    assign_job(holding_id=job.holding_id, job_id=job.pk, by=manager, crew_id=crew.pk)
    with pytest.raises(NotFound):
        report(helper_person, "done", job=job.pk)


def test_who_joined_after_the_crew_was_gone_reports_nothing(
    manager: Person, helper_person: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    first = save_crew(crew=Crew(holding=holding, name="South crew"), by=manager, members=[])
    job = job_factory(holding)
    assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, crew_id=first.pk)
    end_assignment(assignment=Assignment.objects.get(job=job), by=manager, now=SATURDAY)
    save_crew(crew=first, by=manager, members=[helper_person])
    assert not held_once(helper_person, job)


def test_a_deleted_assignment_takes_no_right_away(
    manager: Person, helper_person: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding)
    given = assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, person_id=helper_person.pk)
    Assignment.objects.filter(pk=given.pk).delete()
    assert hidden(helper_person, job)
    assert report(helper_person, "done", job=job.pk)["id"]
