"""Evenings and quiet hours by wall time, against the zone tables read the other way round: from instants to clocks."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from core.sending_hours import evening, is_quiet, last_evening, next_allowed, wall

# Both change days of a year with changes; Phoenix has none, so the same days as Chicago's; Lord Howe moves by 30 min;
# Apia kept summer time until 2021. Days from the IANA time zone database.
DAYS = {
    "America/Chicago": (date(2027, 3, 14), date(2026, 11, 1)),
    "America/Phoenix": (date(2027, 3, 14), date(2026, 11, 1)),
    "Australia/Lord_Howe": (date(2026, 10, 4), date(2027, 4, 4)),
    "Pacific/Apia": (date(2020, 9, 27), date(2021, 4, 4)),
}
QUARTERS = [time(n // 4, n % 4 * 15) for n in range(96)]
CASES = [(zone, day) for zone, days in DAYS.items() for day in days]


def minutes_of(zone: str, day: date) -> Iterator[tuple[datetime, datetime]]:
    """(instant, what the wall clock reads) of every minute of a civil day, from a sweep over UTC."""
    at = datetime.combine(day, time(), UTC) - timedelta(hours=15)
    for _ in range(54 * 60):
        reads = at.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
        if reads.date() == day:
            yield at, reads
        at += timedelta(minutes=1)


@pytest.mark.parametrize(("zone", "day"), CASES)
def test_a_wall_time_is_its_first_instant_or_the_first_after_the_gap(zone: str, day: date) -> None:
    read = list(minutes_of(zone, day))
    for at in QUARTERS:
        wanted = datetime.combine(day, at)
        exact = [instant for instant, reads in read if reads == wanted]
        later = [instant for instant, reads in read if reads > wanted]
        assert wall(zone, day, at) == (min(exact) if exact else min(later)), at


def test_the_days_of_the_table_are_change_days() -> None:
    lengths = {zone: [len(list(minutes_of(zone, day))) for day in days] for zone, days in DAYS.items()}
    assert lengths == {
        "America/Chicago": [23 * 60, 25 * 60],
        "America/Phoenix": [24 * 60, 24 * 60],
        "Australia/Lord_Howe": [24 * 60 - 30, 24 * 60 + 30],
        "Pacific/Apia": [23 * 60, 25 * 60],
    }


@pytest.mark.parametrize(("zone", "day"), CASES)
def test_the_next_allowed_instant_is_the_first_that_the_clock_reads_outside_quiet_hours(zone: str, day: date) -> None:
    sweep = [*minutes_of(zone, day), *minutes_of(zone, day + timedelta(days=1))]
    for quiet_from, quiet_to in ((time(21), time(6)), (time(1), time(3)), (time(23, 30), time(2, 15))):
        allowed = [at for at, _ in sweep if not is_quiet(at, zone, quiet_from, quiet_to)]
        for at, reads in list(minutes_of(zone, day))[::15]:
            first = min(instant for instant in allowed if instant >= at)
            assert next_allowed(at, zone, quiet_from, quiet_to) == first, (reads, quiet_from)


@pytest.mark.parametrize(("zone", "day"), CASES)
def test_every_day_has_one_evening_in_order(zone: str, day: date) -> None:
    for at in QUARTERS:
        days = [day + timedelta(days=offset) for offset in (-1, 0, 1)]
        found = [evening(zone, each, at) for each in days]
        assert found == sorted(set(found))
        for (before, first), (_, second) in pairwise(zip(days, found, strict=True)):
            assert last_evening(first, zone, at) == (before, first)
            assert last_evening(second - timedelta(minutes=1), zone, at) == (before, first)


def test_an_evening_in_quiet_hours_moves_to_their_end() -> None:
    day = date(2026, 5, 7)
    found = evening("America/Chicago", day, time(22), time(21), time(6, 30))
    assert found == datetime(2026, 5, 8, 11, 30, tzinfo=UTC)
    assert last_evening(found, "America/Chicago", time(22), time(21), time(6, 30)) == (day, found)


def test_a_civil_day_that_never_was_has_no_evening() -> None:
    """Samoa went from 29 to 31 December 2011."""
    morning = datetime(2011, 12, 31, 8, tzinfo=ZoneInfo("Pacific/Apia"))
    assert last_evening(morning, "Pacific/Apia", time(18))[0] == date(2011, 12, 29)


def test_without_quiet_hours_every_instant_is_allowed() -> None:
    at = datetime(2026, 5, 7, 3, tzinfo=UTC)
    for hours in ((None, None), (time(21), None), (time(6), time(6))):
        assert next_allowed(at, "America/Chicago", *hours) == at
