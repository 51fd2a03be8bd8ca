"""What one end of a prerequisite demands of the other, and the laws that tie both directions (D1, D2, D5)."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.graph.arcs import (
    KNOWN,
    Bound,
    RainClock,
    clock_of,
    head_not_after,
    head_not_before,
    held,
    reached,
    saturated,
    tail_not_after,
    tail_not_before,
)
from jobs.graph.data import FAR, NEG, Curve, DegreeDays, Fixed, Rain

DAY = 1440


def curve_of(values: list[int], sources: list[str] | None = None) -> Curve:
    """Days of 1,440 minutes from instant 0 on."""
    return Curve([DAY * k for k in range(len(values) + 1)], values, sources or ["observed"] * len(values))


def bound(lag: object, curve: Curve, a: int, b: int, *, maximum: bool = False) -> Bound:
    clock, amount = clock_of(lag, {0: curve})
    return (1, 0, 1, a, b, (b - a - amount) if maximum else (a + amount - b), amount, clock)


def test_a_fixed_minimum_and_its_mirror() -> None:
    arc = bound(Fixed(100), curve_of([]), 30, 10)
    assert head_not_before(arc, 1000) == 1120
    assert tail_not_after(arc, 1120) == 1000


def test_a_fixed_maximum_and_its_mirror() -> None:
    arc = bound(Fixed(100), curve_of([]), 30, 10, maximum=True)
    assert head_not_after(arc, 1000) == 1120
    assert tail_not_before(arc, 1120) == 1000


@pytest.mark.parametrize("end", [FAR, NEG])
def test_unknown_ends_go_through_minima_and_stop_at_maxima(end: int) -> None:
    for lag in (Fixed(100), DegreeDays(0, 5)):
        least, most = bound(lag, curve_of([5, 5]), 30, 0), bound(lag, curve_of([5, 5]), 30, 0, maximum=True)
        assert head_not_before(least, end) == end
        assert tail_not_after(least, end) == end
        assert tail_not_before(most, end) == NEG
        assert head_not_after(most, end) == FAR


def test_instants_saturate() -> None:
    assert saturated(FAR + 5) == FAR
    assert saturated(NEG - 5) == NEG
    assert saturated(KNOWN - 1) == KNOWN - 1
    assert reached(NEG, None, 5) == NEG
    assert held(FAR, None, 5) == FAR


def test_degree_days_run_out_at_the_end_of_the_day_that_brings_them() -> None:
    """Anchor in day 0; 5 + 5 after it are there when day 2 ends."""
    arc = bound(DegreeDays(0, 10), curve_of([9, 5, 5, 5]), 100, 60)
    assert head_not_before(arc, 0) == 3 * DAY - 60
    assert tail_not_after(arc, 3 * DAY - 60) == DAY - 1 - 100


def test_a_maximum_in_degree_days_ends_before_the_sum_is_exceeded() -> None:
    """Anchor in day 0; 10 are not exceeded before day 3 ends."""
    arc = bound(DegreeDays(0, 10), curve_of([9, 5, 5, 5]), 100, 60, maximum=True)
    assert head_not_after(arc, 0) == 4 * DAY - 1 - 60
    assert tail_not_before(arc, 4 * DAY - 1 - 60) == NEG
    assert tail_not_before(arc, 4 * DAY - 60) == DAY - 100


def test_a_lag_on_a_curve_nobody_has_is_unknown_and_bounds_nothing_else() -> None:
    least, most = (
        bound(DegreeDays(7, 10), curve_of([]), 0, 0),
        bound(DegreeDays(7, 10), curve_of([]), 0, 0, maximum=True),
    )
    assert head_not_before(least, 0) == FAR
    assert tail_not_after(least, 500) == FAR
    assert head_not_after(most, 0) == FAR
    assert tail_not_before(most, 500) == NEG


def test_a_rain_clock_starts_with_the_first_day_after_the_anchor_that_brings_enough_at_once() -> None:
    """0.3 and 0.3 inch on two days are no half inch; day 3 brings it, and 48 hours run from its end."""
    rain = curve_of([0, 30, 30, 60, 0])
    arc = bound(Rain(0, 50, 2 * DAY), rain, 0, 0)
    assert head_not_before(arc, 10) == 4 * DAY + 2 * DAY
    assert head_not_before(arc, 3 * DAY) == FAR, "rain of the anchor's own day is not counted"
    assert tail_not_after(arc, 6 * DAY) == 3 * DAY - 1
    assert RainClock(rain, Rain(0, 50)).latest_anchor(4 * DAY, 50) == 3 * DAY - 1


def test_rain_that_was_not_observed_starts_no_clock() -> None:
    assert RainClock(curve_of([0, 60, 60], ["observed", "missing", "observed"]), Rain(0, 50)).reach(0, 50) == 3 * DAY
    assert RainClock(curve_of([0, 60]), Rain(0, 50)).reach(-1, 50) == FAR, "nothing is known before the record"


def test_rain_still_to_come_bounds_an_anchor_only_by_the_fixed_part() -> None:
    """The record ends with day 2. A head by day 20 leaves room for rain; a head by day 1 does not."""
    arc = bound(Rain(0, 50, 2 * DAY), curve_of([0, 0, 0]), 0, 0)
    assert tail_not_after(arc, 20 * DAY) == 18 * DAY
    assert tail_not_after(arc, 1 * DAY) == NEG


def test_a_maximum_after_rain_allows_until_its_fixed_part_is_over() -> None:
    arc = bound(Rain(0, 50, 2 * DAY), curve_of([0, 60, 0, 60, 0]), 0, 0, maximum=True)
    assert head_not_after(arc, 10) == 4 * DAY
    assert tail_not_before(arc, 4 * DAY) == NEG
    assert tail_not_before(arc, 4 * DAY + 1) == 1 * DAY


LAGS = st.one_of(
    st.builds(DegreeDays, st.just(0), st.integers(0, 60)),
    st.builds(Rain, st.just(0), st.integers(1, 12), st.integers(0, 3 * DAY)),
)
VALUES = st.lists(st.integers(0, 12), min_size=1, max_size=12)


@settings(deadline=None)
@given(VALUES, LAGS, st.data())
def test_a_minimum_is_met_exactly_up_to_its_latest_anchor(
    values: list[int], lag: DegreeDays | Rain, data: st.DataObject
) -> None:
    """D5: f(t) <= s <=> t <= g(s), for anchors and instants that the record knows."""
    curve = curve_of(values)
    clock, amount = clock_of(lag, {0: curve})
    assert clock is not None
    end = len(values) * DAY
    anchor, instant = data.draw(st.integers(0, end - 1)), data.draw(st.integers(-DAY, end))
    assert (clock.reach(anchor, amount) <= instant) == (anchor <= clock.latest_anchor(instant, amount))


@settings(deadline=None)
@given(VALUES, LAGS, st.data())
def test_a_maximum_is_kept_exactly_from_its_earliest_anchor_on(
    values: list[int], lag: DegreeDays | Rain, data: st.DataObject
) -> None:
    """D5: h(t) >= s <=> t >= the lower adjoint of h at s."""
    curve = curve_of(values)
    clock, amount = clock_of(lag, {0: curve})
    assert clock is not None
    end = len(values) * DAY
    anchor, instant = data.draw(st.integers(0, end - 1)), data.draw(st.integers(-DAY, end + 4 * DAY))
    assert (clock.hold(anchor, amount) >= instant) == (anchor >= clock.earliest_anchor(instant, amount))
