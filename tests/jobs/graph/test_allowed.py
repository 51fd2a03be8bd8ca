"""Allowed starts in stretches of minutes (D3)."""

import pytest

from jobs.graph.allowed import allowed_starts, down, up
from jobs.graph.data import FAR, NEG


def test_all_of_a_job_fits_into_its_span_and_the_end_is_open() -> None:
    assert allowed_starts([(100, 160)], 60) == [(100, 100)]
    assert allowed_starts([(100, 160)], 61) == []


def test_a_job_of_no_duration_needs_an_instant_inside_the_span() -> None:
    assert allowed_starts([(100, 160)], 0) == [(100, 159)]


def test_a_span_without_end_stays_open() -> None:
    assert allowed_starts([(NEG, 50), (100, FAR)], 10) == [(NEG, 40), (100, FAR)]


def test_spans_that_touch_are_one() -> None:
    assert allowed_starts([(0, 50), (50, 90)], 60) == [(0, 30)]


def test_a_stretch_too_short_for_the_job_is_passed_over() -> None:
    starts = allowed_starts([(0, 50), (60, 65), (100, 200)], 20)
    assert starts == [(0, 30), (100, 180)]
    assert up(starts, 31) == 100
    assert down(starts, 99) == 30


@pytest.mark.parametrize(
    ("instant", "above", "below"),
    [(-5, 0, NEG), (0, 0, 0), (30, 30, 30), (31, 100, 30), (180, 180, 180), (181, FAR, 180)],
)
def test_up_and_down_are_the_nearest_allowed_starts(instant: int, above: int, below: int) -> None:
    starts = [(0, 30), (100, 180)]
    assert up(starts, instant) == above
    assert down(starts, instant) == below


def test_where_nothing_is_allowed_there_is_no_start() -> None:
    assert up([], 5) == FAR
    assert down([], 5) == NEG
