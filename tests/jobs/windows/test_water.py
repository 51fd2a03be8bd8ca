"""Rivers: what is known of a stage hour by hour, when an access is open, and what has to be out by when."""

import numpy as np
import pytest

from jobs.windows.hours import HOUR, hours_of
from jobs.windows.water import (
    GOOD_FOR,
    STAGE,
    Coming,
    Gate,
    Stage,
    Standing,
    leave_by,
    open_access,
    stage_hours,
    water_coming,
)

FIRST = 28_000_020 * HOUR
NOW = FIRST + 10 * HOUR
GATE = Gate(level_ft=16.0, margin_ft=1.0, hours_down=3)


def read(*feet: float, end: int = NOW) -> list[Stage]:
    """One reading an hour, the last at `end`."""
    return [Stage(end - HOUR * back, one) for back, one in zip(range(len(feet) - 1, -1, -1), feet, strict=True)]


def ahead(*feet: float, step: int = 6 * HOUR) -> list[Stage]:
    return [Stage(NOW + step * at, one) for at, one in enumerate(feet, 1)]


def by_hour(readings: list[Stage], to_come: list[Stage], now: int = NOW, count: int = 40) -> list[float | None]:
    return [None if np.isnan(one) else float(one) for one in stage_hours(FIRST, count, readings, to_come, now)]


def test_between_readings_the_water_stands_as_high_as_the_higher_one() -> None:
    assert by_hour(read(8.0, 9.0, 8.5), [])[8:10] == [9.0, 9.0]


def test_a_reading_is_good_for_three_hours_and_no_longer() -> None:
    assert by_hour(read(8.0), [])[9:14] == [None, 8.0, 8.0, 8.0, None]


def test_a_gap_in_the_readings_stays_a_gap() -> None:
    found = by_hour([Stage(FIRST, 8.0), Stage(FIRST + 8 * HOUR, 9.0), Stage(NOW, 9.0)], [])
    assert found[:10] == [8.0, 8.0, 8.0, None, None, None, None, None, 9.0, 9.0]


def test_an_hour_known_in_part_is_not_known() -> None:
    assert by_hour([Stage(NOW + 30, 8.0)], [], now=NOW + 30)[10:14] == [None, 8.0, 8.0, None]


def test_the_forecast_goes_on_from_a_good_reading_as_high_as_its_higher_end() -> None:
    found = by_hour(read(8.0), ahead(12.0, 10.0))
    assert found[10:22] == [12.0] * 12
    assert found[22] is None


def test_with_an_old_reading_nothing_ahead_is_known() -> None:
    old = read(8.0, end=NOW - GOOD_FOR - 1)
    assert by_hour(old, ahead(8.0, 8.0))[10:] == [None] * 30
    assert water_coming(GATE, old, ahead(20.0), NOW) is None


def test_a_crest_alone_bounds_all_hours_before_it_and_none_after() -> None:
    found = by_hour(read(8.0), [Stage(NOW + 20 * HOUR, 17.0)])
    assert found[10:30] == [17.0] * 20
    assert found[30:] == [None] * 10


def test_a_wide_gap_after_the_crest_is_not_known() -> None:
    found = by_hour(read(8.0), [Stage(NOW + 6 * HOUR, 12.0), Stage(NOW + 26 * HOUR, 9.0)])
    assert found[10:16] == [12.0] * 6
    assert found[16:] == [None] * 24


def opened(gate: Gate, stages: list[float]) -> list[tuple[int, int]]:
    hours = hours_of(FIRST, len(stages), [([], [])], {STAGE: np.array([stages])})
    return [((start - FIRST) // HOUR, (end - FIRST) // HOUR) for start, end in open_access(gate, hours, 0)]


def test_an_access_closes_at_its_level_and_opens_after_standing_low_long_enough() -> None:
    assert opened(GATE, [14, 15.9, 16.0, 15.5, 14.9, 14.9, 14.9, 15.5]) == [(0, 2), (6, 8)]


def test_an_hour_without_a_stage_is_closed() -> None:
    assert opened(GATE, [14, float("nan"), 14]) == [(0, 1), (2, 3)]


def test_without_a_level_an_access_never_opens() -> None:
    assert opened(Gate(None, 1.0, 3), [2.0, 2.0]) == []


def test_the_water_passes_the_level_on_the_straight_line_between_near_stages() -> None:
    """From 8 to 12 ft in 6 h, then to 18 ft in 6 h: 16 ft after 4 of them, 15 ft after 3."""
    assert water_coming(GATE, read(8.0), ahead(12.0, 18.0, 17.0), NOW) == Coming(
        NOW + 10 * HOUR, NOW + 9 * HOUR, Stage(NOW + 12 * HOUR, 18.0), told=True
    )


def test_between_stages_far_apart_it_may_be_at_once() -> None:
    found = water_coming(GATE, read(8.0), [Stage(NOW + 30 * HOUR, 18.0)], NOW)
    assert found == Coming(NOW, NOW, Stage(NOW + 30 * HOUR, 18.0), told=True)


@pytest.mark.parametrize("crest", [15.9, 8.0])
def test_water_that_stays_below_is_not_coming(crest: float) -> None:
    assert water_coming(GATE, read(8.0), ahead(crest), NOW) is None


def test_water_that_stands_there_already_came() -> None:
    found = water_coming(GATE, read(15.0, 16.5), ahead(14.0), NOW)
    assert found == Coming(NOW, NOW, Stage(NOW, 16.5), told=False)


def test_what_takes_longer_to_bring_out_begins_first() -> None:
    coming = Coming(NOW + 600, NOW + 540, Stage(NOW + 720, 18.0), told=True)
    found = leave_by(coming, [Standing("tractor", 60), Standing("fence", 240, 7), Standing("drill", 60)])
    assert [(begin - NOW, one.what) for begin, one in found] == [(300, "fence"), (480, "drill"), (480, "tractor")]
