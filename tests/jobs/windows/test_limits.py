"""Limits over hours: each rule equals its plain hour-by-hour form, and what is missing holds nothing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.windows.hours import RAIN_MOST, Hours, hours_of
from jobs.windows.limits import (
    Away,
    Between,
    DryAhead,
    DryBefore,
    Fit,
    Highest,
    Lowest,
    RainAhead,
    Receded,
    Rule,
    Steady,
)
from plots.forecasts.values import HourValues, RainTotal
from tests.jobs.windows.scalar import Place, distance

FIRST = 28_800_000
HOURS = 40


def maybe(low: float, high: float) -> st.SearchStrategy[list[float | None]]:
    value = st.one_of(st.none(), st.integers(int(low * 4), int(high * 4)).map(lambda quarter: quarter / 4))
    return st.lists(value, min_size=HOURS, max_size=HOURS)


@st.composite
def rain_totals(draw: st.DrawFn) -> list[tuple[int, int, float]]:
    """Stretches one after another, some left out, the first and last reaching over the frame."""
    totals, at = [], draw(st.integers(-5, 0))
    while at < HOURS:
        length = draw(st.sampled_from([1, 1, 3, 6]))
        if draw(st.booleans()) or draw(st.booleans()):
            totals.append((at, at + length, draw(st.sampled_from([0.0, 0.0, 0.05, 0.25, 1.0]))))
        at += length
    return totals


def built(values: dict[str, list[float | None]], totals: list[tuple[int, int, float]]) -> Hours:
    rows = [
        HourValues(FIRST + 60 * hour, **{name: column[hour] for name, column in values.items()})
        for hour in range(HOURS)
    ]
    spans = [RainTotal(FIRST + 60 * start, FIRST + 60 * end, inches) for start, end, inches in totals]
    return hours_of(FIRST, HOURS, [(rows, spans)])


def agree(rule: Rule, values: dict[str, list[float | None]], totals: list[tuple[int, int, float]]) -> None:
    ours = rule.margin(built(values, totals))[0]
    place = Place(HOURS, values, totals)
    for hour in range(HOURS):
        theirs = distance(rule, place, hour)
        if theirs is None:
            assert np.isnan(ours[hour]), hour
        else:
            assert ours[hour] == pytest.approx(theirs, abs=1e-5), hour


@given(seen=st.lists(st.sampled_from([None, 0.0, 1.0]), min_size=HOURS, max_size=HOURS), totals=rain_totals())
def test_what_somebody_says_of_the_ground(seen: list[float | None], totals: list[tuple[int, int, float]]) -> None:
    for rule in (Fit("sky_pct"), DryBefore(9, 0.05, unless="sky_pct")):  # any quantity serves
        agree(rule, {"sky_pct": seen}, totals)


@given(temp=maybe(20, 95), ahead=st.integers(1, 30))
def test_bounds_of_an_hour_and_of_hours_ahead(temp: list[float | None], ahead: int) -> None:
    here = Between("temp_f", 45, 85), Between("temp_f", most=60)
    for rule in (*here, Lowest("temp_f", ahead, 40), Highest("temp_f", ahead, 90)):
        agree(rule, {"temp_f": temp}, [])


@given(totals=rain_totals(), ahead=st.integers(1, 30))
def test_rain_ahead_and_behind(totals: list[tuple[int, int, float]], ahead: int) -> None:
    for rule in (DryAhead(ahead, 0.05), RainAhead(ahead, 0.25), DryBefore(ahead, 0.05)):
        agree(rule, {}, totals)


@given(wind=maybe(0, 360), ahead=st.integers(1, 12), bearings=st.lists(st.integers(0, 359), min_size=1, max_size=3))
def test_where_the_wind_carries_and_whether_it_turns(wind: list[float | None], ahead: int, bearings: list[int]) -> None:
    for rule in (Away(bearings, 45), Steady(ahead, 45)):
        agree(rule, {"wind_dir_deg": wind}, [])


@given(level=maybe(0, 12), clear=st.integers(1, 6))
def test_a_river_clears_only_after_it_stayed_low(level: list[float | None], clear: int) -> None:
    agree(Receded("sky_pct", 8, 1.5, clear), {"sky_pct": level}, [])


def test_a_river_that_ripples_about_its_bound_stays_closed() -> None:
    level = [5.0, 8.2, 7.9, 8.1, 7.8, 6.0, 6.0, 6.0, 6.0] + [6.0] * (HOURS - 9)
    margin = Receded("sky_pct", 8, 1, 3).margin(built({"sky_pct": level}, []))[0]
    assert list(margin[:9] >= 0) == [True, False, False, False, False, False, False, True, True]


def test_a_river_needs_a_drop_to_clear_by() -> None:
    with pytest.raises(ValueError, match="drop"):
        Receded("sky_pct", 8, 0, 3)


def test_a_six_hour_total_stays_one_total() -> None:
    """0.6 in over six hours may all fall in any of them, and is sure only once, when the six are over."""
    hours = built({}, [(0, 6, 0.6), (6, HOURS, 0.0)])
    assert list(hours.of(RAIN_MOST)[0, :7]) == [0.6] * 6 + [0.0]
    assert DryAhead(0, 0.1).margin(hours)[0, 0] == pytest.approx(-0.5)
    dry = built({}, [(0, 1, 0.0), (1, 7, 0.6), (7, HOURS, 0.0)])
    sure = RainAhead(6, 0.5).margin(dry)[0]
    assert sure[0] == pytest.approx(0.1)
    assert sure[1] == pytest.approx(-0.5)
    assert RainAhead(5, 0.5).margin(dry)[0, 0] == pytest.approx(-0.5)


def test_the_hours_that_stay_dry_are_whole_ones_after_the_hour_of_the_work() -> None:
    """Rain from the tenth hour on: work may go until the end of the third, six dry hours before it rains."""
    hours = built({}, [(0, 9, 0.0), (9, HOURS, 0.3)])
    assert list(np.flatnonzero(DryAhead(6, 0.04).margin(hours)[0] >= 0)) == [0, 1, 2]
    assert list(np.flatnonzero(DryAhead(0, 0.04).margin(hours)[0] >= 0)) == list(range(9))


def test_a_quantity_that_nobody_gave_is_missing_everywhere() -> None:
    assert np.isnan(Between("mixing_ft", 1_700).margin(built({}, []))).all()


def test_a_look_beyond_the_last_hour_is_not_known() -> None:
    hours = built({"temp_f": [50.0] * HOURS}, [(0, HOURS, 0.0)])
    for rule in (Lowest("temp_f", HOURS + 1, 40), RainAhead(HOURS, 0.1), Steady(HOURS, 45)):
        assert np.isnan(rule.margin(hours)).all()


def test_hours_begin_on_the_hour() -> None:
    with pytest.raises(ValueError, match="on the hour"):
        hours_of(FIRST + 1, 3, [])
