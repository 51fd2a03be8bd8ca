"""What a season takes from its place: the first autumn day with a normal low at freezing, and what is made of it."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from core.models import Holding
from jobs.services.seasons import apply_sequence, freezing_normals, latest_sequence
from plots.models import Normal, Plot, PropertySeries, Series

pytestmark = pytest.mark.django_db


@pytest.fixture
def plot(holding: Holding, plot_factory: Callable[..., Plot]) -> Plot:
    """A plot whose station has a normal low of 62 F on 1 August, half a degree less each day."""
    plot = plot_factory(holding)
    station = Series.objects.create(source="station", place="USW00000001", name="Home")
    PropertySeries.objects.create(holding=holding, property=plot.property, series=station, rank=1)
    days = (date(2027, 8, 1) + timedelta(days=offset) for offset in range(100))
    Normal.objects.bulk_create(
        Normal(series=station, month_day=f"{day:%m-%d}", low_f=62 - number / 2) for number, day in enumerate(days)
    )
    return plot


def test_the_day_is_the_first_whose_normal_low_reaches_the_limit(plot: Plot) -> None:
    assert freezing_normals(plot.property_id, 2027) == {32: date(2027, 9, 30), 28: date(2027, 10, 8)}


def test_a_deadline_counted_from_it_says_that_it_is_no_freeze_date(holding: Holding, plot: Plot) -> None:
    season = apply_sequence(plot=plot, sequence=latest_sequence(holding.pk, "brassica_summer"), year=2027, by=None)
    sow = season.jobs.get(step="sow")
    assert sow.deadline == date(2027, 10, 8) - timedelta(days=80)
    assert sow.details["deadline_note"] == (
        "first autumn day with a normal low at or below 28 F, 8 Oct, less 80 days; "
        "half of all years or more freeze before it"
    )


def test_a_place_without_normals_takes_the_day_of_the_sequence(
    holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    plot = plot_factory(holding)
    season = apply_sequence(plot=plot, sequence=latest_sequence(holding.pk, "brassica_summer"), year=2027, by=None)
    sow = season.jobs.get(step="sow")
    assert sow.deadline == date(2027, 8, 15)
    assert sow.details["deadline_note"] == "a day of the sequence: this place has no normal low at or below 28 F"
