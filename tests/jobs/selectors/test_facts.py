"""Rows to facts: rain starts the clock of a spray, long lists of ids are read whole, part and whole agree."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest

from core.models import Holding, Person
from jobs.minutes import day_end
from jobs.models import Job, Need, Prerequisite
from jobs.selectors.facts import MOST, load
from jobs.services.reports import NewReport, store_report
from plots.models import Day, Material, PropertySeries, Series

NOON = datetime(2027, 5, 20, 17, 0, tzinfo=UTC)
CHICAGO = "America/Chicago"
AFTER_RAIN = {
    "active": "dicamba", "source": "printed-label", "worth": "published", "days": 28, "after_rain_in": 1.0,
}  # fmt: skip

JobFactory = Callable[..., Job]


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    return holding_factory(zone=CHICAGO, clock_at=NOON)


def sprayed_on_the_first_of_may(holding: Holding, manager: Person, make: JobFactory) -> tuple[Job, Series]:
    """A job that dicamba closes, on a plot where it was sprayed, beside a rain gauge."""
    spray = make(holding, "Burndown", operation="spray")
    replant = make(holding, "Soybeans instead", details={"closed_by": [AFTER_RAIN]})
    bottle = Material.objects.create(holding=holding, name="Bottle", kind="herbicide", unit="gal", active="Dicamba")
    Need.objects.create(holding=holding, job=spray, kind="material", name="herbicide", material=bottle)
    at = datetime(2027, 5, 1, 15, 0, tzinfo=UTC)
    store_report(person=manager, new=NewReport(uuid.uuid4(), "done", at, job=spray.pk), now=NOON)
    gauge = Series.objects.create(source="typed", place="gauge", zone=CHICAGO)
    PropertySeries.objects.create(holding=holding, property=spray.plot.property, rank=1, series=gauge)
    return replant, gauge


@pytest.mark.parametrize("alone", [True, False])
def test_the_rain_that_a_label_asks_for_starts_its_clock(
    holding: Holding, manager: Person, job_factory: JobFactory, alone: bool
) -> None:
    replant, gauge = sprayed_on_the_first_of_may(holding, manager, job_factory)
    components = [replant.pk] if alone else None
    Day.objects.create(series=gauge, date=date(2027, 5, 3), rain_in=0.9)
    (closed,) = load(holding, NOON, components).facts.jobs[replant.pk].sprayed
    assert (closed.active, closed.until) == ("dicamba", None)
    Day.objects.create(series=gauge, date=date(2027, 5, 6), rain_in=1.2)
    (closed,) = load(holding, NOON, components).facts.jobs[replant.pk].sprayed
    assert closed.until == day_end(CHICAGO, date(2027, 5, 6)) + 28 * 1440


def test_rain_before_the_spray_starts_no_clock(holding: Holding, manager: Person, job_factory: JobFactory) -> None:
    replant, gauge = sprayed_on_the_first_of_may(holding, manager, job_factory)
    Day.objects.create(series=gauge, date=date(2027, 4, 30), rain_in=2.0)
    Day.objects.create(series=gauge, date=date(2027, 5, 1), rain_in=2.0)
    (closed,) = load(holding, NOON).facts.jobs[replant.pk].sprayed
    assert closed.until is None


def test_more_components_than_a_statement_lists_read_as_they_do_in_the_whole(
    holding: Holding, job_factory: JobFactory
) -> None:
    first = job_factory(holding, "First")
    made: Any = Job.objects.bulk_create(
        Job(holding=holding, plot=first.plot, title=f"Job {k}", operation="till", duration_min=60, component=0)
        for k in range(MOST + 20)
    )
    for job in made:
        job.component = job.pk
    Job.objects.bulk_update(made, ["component"])
    for job in made:
        Need.objects.create(holding=holding, job=job, kind="machine", name="tiller")
    Prerequisite.objects.create(holding=holding, predecessor=made[0], successor=made[1])
    whole, part = load(holding, NOON), load(holding, NOON, [job.pk for job in made])
    assert set(whole.rows) - set(part.rows) == {first.pk}
    assert all(part.facts.jobs[job.pk] == whole.facts.jobs[job.pk] for job in made)
    assert part.facts.problem.arcs == whole.facts.problem.arcs
