"""Reports by the service: what a correction and a withdrawal take back, and where a helper may report."""

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.db.models import Sum

from core.errors import NotFound
from core.models import Crew, CrewMember, Holding, Person
from jobs.models import Job, Need, Reckoning
from jobs.services.reports import NewReport, store_report
from jobs.services.walking import walk_holding
from plots.models import CrewProperty, Material, Plot, StockMove

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
