"""No value gets through that its column or a reader does not fit."""

from datetime import UTC, date, datetime, time
from typing import Any

import pytest
from rest_framework.exceptions import ValidationError

from core.api.fields import ClockTime, Day, Figure, Instant, Line, Text, Truth, Whole, Zone

REFUSED = [
    (Line(), "two\nlines"),
    (Line(), "tab\there"),
    (Line(), "\x00"),
    (Line(), "   "),
    (Line(max_length=3), "four"),
    (Text(), "bell\x07"),
    (Text(), "a" * 4001),
    (Whole(), True),
    (Whole(), 1.5),
    (Whole(max_value=9), 10),
    (Figure(), True),
    (Figure(), float("nan")),
    (Figure(), float("inf")),
    (Figure(), 1e13),
    (Day(), "2026-02-30"),
    (Day(), "1899-12-31"),
    (Day(), "2201-01-01"),
    (Instant(), "2026-04-18T14:00:00"),
    (Instant(), "2026-04-18"),
    (Instant(), "0001-01-01T00:00:00+14:00"),
    (Instant(), "9999-12-31T23:59:59-14:00"),
    (Zone(), "America/Nowhere"),
    (Zone(), "../etc/passwd"),
]
TAKEN = [
    (Line(), "  Ridge plot ", "Ridge plot"),
    (Text(), "two\nlines", "two\nlines"),
    (Whole(), 7, 7),
    (Figure(), 7, 7.0),
    (Day(), "2026-04-18", date(2026, 4, 18)),
    (Instant(), "2026-04-18T14:00:00-05:00", datetime(2026, 4, 18, 19, tzinfo=UTC)),
    (Zone(), "America/Chicago", "America/Chicago"),
]


@pytest.mark.parametrize(("field", "value"), REFUSED)
def test_value_is_refused(field: Any, value: Any) -> None:
    with pytest.raises(ValidationError):
        field.run_validation(value)


@pytest.mark.parametrize(("field", "value", "read"), TAKEN)
def test_value_is_read(field: Any, value: Any, read: Any) -> None:
    assert field.run_validation(value) == read


@pytest.mark.parametrize(
    ("field", "value"),
    [
        (Line(), 5),
        (Text(), True),
        (Whole(), "5"),
        (Figure(), "5.0"),
        (Truth(), "true"),
        (Truth(), 1),
        (ClockTime(), "8"),
        (ClockTime(), "0800"),
        (ClockTime(), "24:00"),
    ],
)
def test_value_of_another_type_is_refused_and_not_turned_into_one(field: Any, value: Any) -> None:
    with pytest.raises(ValidationError):
        field.run_validation(value)


def test_times_of_the_day_are_taken_with_and_without_seconds() -> None:
    assert ClockTime().run_validation("08:00") == time(8)
    assert ClockTime().run_validation("23:59:59") == time(23, 59, 59)
