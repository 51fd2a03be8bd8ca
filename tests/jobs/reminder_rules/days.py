"""Words for the tests: minutes of days counted from Monday 4 May 2026, UTC."""

from datetime import date, timedelta

from jobs.minutes import day_start
from jobs.reminder_rules import Given

MONDAY = date(2026, 5, 4)
DAY = 1440


def day(number: int) -> date:
    """Day 0 is the Monday, 5 the Saturday, 7 the next Monday."""
    return MONDAY + timedelta(days=number)


def minute(number: int, hour: float = 0) -> int:
    return day_start("UTC", day(number)) + round(hour * 60)


def given(number: int | None, *people: int, pk: int = 1, hour: float = 0, **more: object) -> Given:
    """A job given to people for a day from an hour on, or for no day."""
    if number is None:
        return Given(pk, frozenset(people), **more)  # type: ignore[arg-type]
    bounds = minute(number), minute(number, hour), minute(number + 1), minute(number + 2)
    return Given(pk, frozenset(people), True, day(number), *bounds, **more)  # type: ignore[arg-type]
