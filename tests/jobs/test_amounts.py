"""Amounts in words."""

import pytest

from jobs.amounts import amount, span


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (1, "days", "1 day"),
        (0, "days", "0 days"),
        (1.5, "days", "1.5 days"),
        (14.0, "days", "14 days"),
        (36, "hours", "36 h"),
        (1, "degree_days", "1 degree day"),
        (120, "degree_days", "120 degree days"),
        (1, "rain_in", "1 in of rain on one day"),
        (1, "jobs", "1 job"),
    ],
)
def test_an_amount_has_its_unit_in_the_right_number(value: float, unit: str, words: str) -> None:
    assert amount(value, unit) == words


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "0 min"),
        (59, "59 min"),
        (1440, "1 day"),
        (2 * 1440 + 61, "2 days 1 h 1 min"),
        (-1440 - 30, "-1 day 30 min"),
    ],
)
def test_a_span_is_told_in_days_hours_and_minutes(minutes: int, words: str) -> None:
    assert span(minutes) == words
