"""The bucket: laws that hold whatever the figures."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plots.agromet.soil_water import bucket, upper_tillage_limit_pct

DAYS = st.lists(st.tuples(st.floats(0, 3), st.floats(0, 0.4)), min_size=1, max_size=60)


@given(days=DAYS, start=st.floats(0, 6), runoff=st.floats(0, 0.9))
def test_no_water_is_made_or_lost(days: list[tuple[float, float]], start: float, runoff: float) -> None:
    rain, et = zip(*days, strict=True)
    steps = [s for s in bucket(rain, et, holds_in=6, start_deficit_in=start, runoff_share=runoff) if s is not None]
    out = sum(s.evaporated + s.drained + s.ran_off for s in steps)
    assert sum(rain) == pytest.approx(out + start - steps[-1].deficit, abs=1e-9)
    assert all(0 <= s.deficit <= 6 and s.evaporated >= -1e-12 and s.drained >= 0 for s in steps)


@given(et=st.lists(st.floats(0, 0.4), min_size=2, max_size=60), start=st.floats(0, 6))
def test_a_dry_spell_never_wets_the_ground(et: list[float], start: float) -> None:
    steps = [s for s in bucket([0.0] * len(et), et, holds_in=6, start_deficit_in=start) if s is not None]
    assert all(later.deficit >= earlier.deficit for earlier, later in pairwise(steps))


def test_from_a_gap_on_nothing_is_known() -> None:
    steps = bucket([0.2, None, 0.5], [0.1, 0.1, 0.1], holds_in=4, start_deficit_in=1)
    assert [step is None for step in steps] == [False, True, True]


def test_rain_that_does_not_fit_drains() -> None:
    (step,) = bucket([2.0], [0.0], holds_in=4, start_deficit_in=0.5)
    assert step is not None
    assert (step.deficit, step.drained) == (0.0, 1.5)


def test_a_bucket_lacks_no_more_than_it_holds() -> None:
    with pytest.raises(ValueError, match="cannot lack"):
        bucket([], [], holds_in=4, start_deficit_in=4.1)


def test_the_upper_tillage_limit_rises_with_clay_and_humus() -> None:
    assert upper_tillage_limit_pct(3, 25) == pytest.approx(21.73)
    assert upper_tillage_limit_pct(4, 25) > upper_tillage_limit_pct(3, 25)
    assert upper_tillage_limit_pct(3, 30) > upper_tillage_limit_pct(3, 25)
