"""Windows: where all limits hold, what ends them, and that a missing value never opens one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.windows.finding import Edge, held, latest_start, line, runs, tightest_at, windows
from jobs.windows.hours import HOUR, Hours, hours_of
from jobs.windows.limits import Between, DryAhead, Limit
from plots.forecasts.values import HourValues, RainTotal

FIRST = 28_800_000
WIND = Limit("wind", "wind", "mph", 5.0, Between("wind_mph", 3, 10), "common-practice")
TEMP = Limit("temperature", "temperature", "F", 10.0, Between("temp_f", 45, 85), "common-practice")
DRY = Limit("rain", "rain after the work", "in", 0.1, DryAhead(1, 0.05), "common-practice")


def day(wind: list[float | None], temp: list[float | None] | None = None, wet: tuple[int, int] | None = None) -> Hours:
    temps = temp or [60.0] * len(wind)
    rows = [
        HourValues(FIRST + HOUR * at, wind_mph=w, temp_f=t) for at, (w, t) in enumerate(zip(wind, temps, strict=True))
    ]
    totals = [RainTotal(FIRST + HOUR * at, FIRST + HOUR * (at + 1), 0.0) for at in range(len(wind))]
    if wet:
        totals.append(RainTotal(FIRST + HOUR * wet[0], FIRST + HOUR * wet[1], 0.4))
    return hours_of(FIRST, len(wind), [(rows, totals)])


def found(
    hours: Hours, limits: tuple[Limit, ...] = (WIND, TEMP), minutes: int = 60, **options: object
) -> list[tuple[int, int]]:
    inside = options.pop("inside", {})
    found = windows(held(limits, hours), 0, inside, minutes=minutes, not_before=FIRST, **options)  # type: ignore[arg-type]
    return [((w.starts - FIRST) // HOUR, (w.ends - FIRST) // HOUR) for w in found]


def test_a_window_is_a_run_of_hours_in_which_all_limits_hold() -> None:
    assert found(day([12, 8, 7, 9, 11, 5, 2])) == [(1, 4), (5, 6)]


def test_a_run_too_short_for_the_work_is_no_window() -> None:
    assert found(day([12, 8, 7, 9, 11, 5, 2]), minutes=121) == [(1, 4)]


def test_work_that_may_be_split_needs_its_least_piece_only() -> None:
    assert found(day([12, 8, 7, 9, 11, 5, 2]), minutes=300, can_split=True, least_piece=60) == [(1, 4), (5, 6)]
    assert found(day([12, 8, 7, 9, 11, 5, 2]), minutes=300) == []


def test_the_edges_name_the_limit_that_binds_and_how_far_it_is_off() -> None:
    (window,) = windows(held((WIND, TEMP), day([12, 8, 7, 9.5, 11])), 0, {}, minutes=60, not_before=FIRST)
    assert (window.opened_by, window.closed_by) == (Edge("wind", -2.0), Edge("wind", -1.0))
    assert (window.tightest, window.least) == ("wind", 0.5)


def test_the_tightest_limit_is_the_closest_in_steps_of_its_own_scale() -> None:
    hours = day([6, 6, 6], [50.0, 80.0, 60.0])
    (window,) = windows(held((WIND, TEMP), hours), 0, {}, minutes=60, not_before=FIRST)
    assert (window.tightest, window.least) == ("temperature", 5.0)
    assert [key for _, key, _ in line(held((WIND, TEMP), hours), 0)] == ["temperature", "temperature", "wind"]


def test_stretches_cut_to_the_minute_and_are_named_at_the_edge() -> None:
    light = [(FIRST + 30, FIRST + 3 * HOUR + 15)]
    (window,) = windows(held((WIND,), day([6] * 6)), 0, {"daylight": light}, minutes=60, not_before=FIRST)
    assert (window.starts, window.ends) == light[0]
    assert (window.opened_by, window.closed_by) == (Edge("daylight"), Edge("daylight"))
    assert latest_start(window, 60) == FIRST + 2 * HOUR + 15


def test_what_is_over_is_cut_off() -> None:
    (window,) = windows(held((WIND,), day([6] * 6)), 0, {}, minutes=60, not_before=FIRST + 90)
    assert (window.starts, window.opened_by, window.closed_by) == (FIRST + 90, Edge("now"), Edge("horizon"))


def test_without_limits_only_the_stretches_bound() -> None:
    (window,) = windows(held((), day([6] * 3)), 0, {"daylight": [(FIRST, FIRST + 90)]}, minutes=60, not_before=FIRST)
    assert (window.minutes, window.tightest, window.least) == (90, None, None)


def test_a_missing_value_ends_the_window_by_name() -> None:
    (first, second) = windows(held((WIND,), day([6, 6, None, 6])), 0, {}, minutes=60, not_before=FIRST)
    assert first.closed_by == Edge("wind", None)
    assert second.opened_by == Edge("wind", None)


def test_rain_counts_ahead_of_the_work() -> None:
    assert found(day([6] * 8, wet=(4, 7)), (DRY,)) == [(0, 3)]


@given(st.lists(st.one_of(st.none(), st.integers(0, 20)), min_size=3, max_size=60), st.integers(1, 240), st.data())
def test_a_removed_hour_closes_every_window_that_needed_it(
    wind: list[int | None], minutes: int, data: st.DataObject
) -> None:
    """Taking a value away never opens or lengthens a window, and none is left over the hour."""
    whole = day([None if w is None else float(w) for w in wind])
    at = data.draw(st.integers(0, len(wind) - 1))
    less = day([None if w is None or k == at else float(w) for k, w in enumerate(wind)])
    before, after = found(whole, (WIND,), minutes), found(less, (WIND,), minutes)
    assert all(any(low <= start and end <= high for low, high in before) for start, end in after)
    assert not any(start <= at < end for start, end in after)


@pytest.mark.parametrize("quantity", ["wind_mph", "temp_f"])
def test_without_a_quantity_that_a_limit_reads_there_is_no_window(quantity: str) -> None:
    hours = day([6.0] * 10)
    assert found(hours) != []
    assert found(hours.without(quantity)) == []


@given(st.lists(st.lists(st.booleans(), min_size=30, max_size=30), min_size=1, max_size=5))
def test_runs_are_those_a_plain_loop_finds(rows: list[list[bool]]) -> None:
    plain = []
    for place, row in enumerate(rows):
        start = None
        for at, holds in enumerate([*row, False]):
            if holds and start is None:
                start = at
            if not holds and start is not None:
                plain.append((place, start, at))
                start = None
    assert list(zip(*(array.tolist() for array in runs(np.array(rows))), strict=True)) == plain


def test_an_unknown_limit_binds_before_a_broken_one() -> None:
    assert tightest_at(held((WIND, TEMP), day([30.0], [None])), 0, 0) == ("temperature", None)
