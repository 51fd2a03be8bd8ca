"""Tanks and minutes of an area."""

import pytest

from jobs.planner.loads import acres_until, loads, work_minutes
from plots.capacity import acres_per_hour


def test_the_last_load_takes_the_rest() -> None:
    assert loads(7.0, 3.0) == (3.0, 3.0, 1.0)
    assert loads(6.0, 3.0) == (3.0, 3.0)
    assert loads(0.0, 3.0) == ()
    assert loads(0.3, 0.1) == (0.1, 0.1, 0.1)


def test_a_load_that_cannot_be_finished_is_not_begun() -> None:
    """12 acres an hour are five minutes an acre, ten a fill: 25 minutes for each full load of three acres."""
    cases = {24: 0.0, 25: 3.0, 49: 3.0, 50: 6.0, 64: 6.0, 65: 7.0, 600: 7.0}
    for minutes, acres in cases.items():
        assert acres_until(minutes, acres_a_load=3.0, acres_per_hour=12.0, fill_min=10, acres=7.0) == acres


def test_work_is_rounded_to_the_nearest_minute() -> None:
    assert work_minutes(2.0, acres_per_hour=8.0) == 15
    assert work_minutes(2.5, acres_per_hour=10.0, fills=2, fill_min=12.75) == 41
    rate = acres_per_hour(12.0, 4.0, 0.7)
    assert work_minutes(rate, acres_per_hour=rate) == 60
    with pytest.raises(ValueError):
        work_minutes(1.0, acres_per_hour=0.0)
