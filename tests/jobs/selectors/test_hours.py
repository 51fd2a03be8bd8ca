"""Hours of properties: ranks, observed before forecast, a stale forecast is none, a gap stays a gap."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.models import Graph, Holding
from jobs.minutes import floor_minute
from jobs.selectors.hours import AHEAD_H, BEHIND_H, hours_at
from jobs.windows.hours import HOUR, RAIN_ENDED, RAIN_MOST
from plots.models import Day, DayKind, Hour, Property, PropertySeries, RainTotal, Series

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 7, 23, 30, tzinfo=UTC)
FRESH, STALE = NOW - timedelta(hours=3), NOW - timedelta(hours=25)


@pytest.fixture
def place() -> Property:
    holding = Holding.objects.create(name="Kettle Run")
    Graph.objects.create(holding=holding)
    return Property.objects.create(holding=holding, name="Home", latitude=39.0, longitude=-85.0)


def ranked(place: Property, rank: int, name: str) -> Series:
    series = Series.objects.create(source="typed", place=name)
    PropertySeries.objects.create(holding=place.holding, property=place, rank=rank, series=series)
    return series


def hour(
    series: Series, ahead: int, *, kind: str = DayKind.FORECAST, issued: datetime | None = FRESH, **values: float
) -> None:
    at = NOW.replace(minute=0) + timedelta(hours=ahead)
    Hour.objects.create(series=series, at=at, kind=kind, issued_at=issued, **values)


def value(place: Property, name: str, ahead: int) -> float:
    found = hours_at([place.pk], NOW)
    return float(found.hours.of(name)[found.place[place.pk], BEHIND_H + ahead])


def test_the_frame_reaches_from_three_days_ago_to_eight_days_ahead(place: Property) -> None:
    hours = hours_at([place.pk], NOW).hours
    assert hours.first == floor_minute(NOW) // HOUR * HOUR - BEHIND_H * HOUR
    assert hours.count == BEHIND_H + AHEAD_H


def test_the_better_rank_goes_first_value_by_value(place: Property) -> None:
    better, worse = ranked(place, 1, "gauge"), ranked(place, 2, "grid")
    hour(better, 2, temp_f=61.0)
    hour(worse, 2, temp_f=58.0, wind_mph=7.0)
    assert (value(place, "temp_f", 2), value(place, "wind_mph", 2)) == (61.0, 7.0)


def test_observed_goes_before_forecast_in_one_series(place: Property) -> None:
    series = ranked(place, 1, "grid")
    hour(series, 0, temp_f=60.0)
    hour(series, 0, kind=DayKind.OBSERVED, issued=None, temp_f=63.0)
    assert value(place, "temp_f", 0) == 63.0


@pytest.mark.parametrize("issued", [STALE, None])
def test_a_forecast_that_is_old_or_does_not_say_when_is_none(place: Property, issued: datetime | None) -> None:
    series = ranked(place, 1, "grid")
    hour(series, 2, issued=issued, temp_f=60.0)
    RainTotal.objects.create(series=series, starts=NOW, ends=NOW + timedelta(hours=6), issued_at=issued, rain_in=0.0)
    found = hours_at([place.pk], NOW)
    assert np.isnan(found.hours.of("temp_f")).all()
    assert np.isnan(found.hours.of(RAIN_MOST)).all()
    assert found.issued[place.pk] is None


def test_what_nobody_knows_is_missing(place: Property) -> None:
    hour(ranked(place, 1, "grid"), 2, temp_f=60.0)
    assert np.isnan(value(place, "temp_f", 3))
    assert hours_at([place.pk], NOW).issued[place.pk] == FRESH


def test_a_total_counts_only_where_no_better_series_knows_the_rain(place: Property) -> None:
    gauge, grid = ranked(place, 1, "gauge"), ranked(place, 2, "grid")
    start = NOW.replace(minute=0)
    hour(gauge, 1, kind=DayKind.OBSERVED, issued=None, rain_in=0.2)
    for hours, inches in ((0, 0.9), (6, 0.3)):
        RainTotal.objects.create(
            series=grid,
            starts=start + timedelta(hours=hours),
            ends=start + timedelta(hours=hours + 6),
            issued_at=FRESH,
            rain_in=inches,
        )
    assert value(place, RAIN_MOST, 1) == 0.2
    assert np.isnan(value(place, RAIN_MOST, 2))
    assert value(place, RAIN_MOST, 7) == 0.3


def test_the_number_of_queries_does_not_grow_with_the_places(place: Property) -> None:
    hour(ranked(place, 1, "grid"), 2, temp_f=60.0)
    more = [place.pk]
    for at in range(5):
        other = Property.objects.create(holding=place.holding, name=f"P{at}", latitude=39.0, longitude=-85.0)
        hour(ranked(other, 1, f"grid {at}"), 2, temp_f=50.0 + at)
        more.append(other.pk)
    counts = []
    for ids in ([place.pk], more):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            hours_at(ids, NOW)
        counts.append(len(queries))
    assert counts == [5, 5]


def test_a_rain_gauge_read_by_the_day_is_one_total_over_that_day(place: Property) -> None:
    """Wednesday 6 May in Chicago is 05:00 UTC to 05:00 UTC: all of it may have fallen in any of its hours."""
    series = ranked(place, 1, "gauge")
    Day.objects.create(series=series, date=date(2026, 5, 6), rain_in=0.75)
    found = hours_at([place.pk], NOW).hours
    inside = [not np.isnan(one) for one in found.of(RAIN_MOST)[0]]
    first = next(at for at, known in enumerate(inside) if known)
    assert found.first + HOUR * first == floor_minute(datetime(2026, 5, 6, 5, tzinfo=UTC))
    assert sum(inside) == 24
    assert set(found.of(RAIN_MOST)[0, first : first + 24]) == {0.75}
    assert found.of(RAIN_ENDED)[0, -1] == 0.75


def test_a_gauge_says_nothing_of_the_rest_of_today(place: Property) -> None:
    Day.objects.create(series=ranked(place, 1, "gauge"), date=date(2026, 5, 7), rain_in=0.0)
    grid = ranked(place, 2, "grid")
    ends = NOW + timedelta(hours=6)
    RainTotal.objects.create(series=grid, starts=NOW, ends=ends, issued_at=FRESH, rain_in=0.6)
    assert value(place, RAIN_MOST, 2) == 0.6
    midnight = datetime(2026, 5, 8, 5, tzinfo=UTC)
    assert hours_at([place.pk], NOW).stale_at == floor_minute(midnight)


def test_a_better_gauge_takes_the_place_of_hours_of_the_same_day(place: Property) -> None:
    Day.objects.create(series=ranked(place, 1, "gauge"), date=date(2026, 5, 6), rain_in=0.2)
    hour(ranked(place, 2, "grid"), -20, kind=DayKind.OBSERVED, issued=None, rain_in=0.9)
    assert value(place, RAIN_MOST, -20) == 0.2


def test_days_of_a_public_station_say_nothing_of_hours(place: Property) -> None:
    series = Series.objects.create(source="ghcn", place="USW00000001")
    PropertySeries.objects.create(holding=place.holding, property=place, rank=1, series=series)
    Day.objects.create(series=series, date=date(2026, 5, 6), rain_in=0.0)
    assert np.isnan(hours_at([place.pk], NOW).hours.of(RAIN_MOST)).all()
