"""Fault 17: days on which clocks change, in four zones: every evening message goes once, at the time that is stated.

A sweep every quarter of an hour over four days around each change asks the rule which evening is the latest. What it
should say is read from the zone tables the other way round, from instants to clocks: the first minute whose clock reads
the wall time, or the first after it where no clock reads it. The control sends whenever a clock reads the wall time, as
a time table by local hours does: it sends nothing in a gap and twice in an hour that comes twice.
"""

import time as clock
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from core.sending_hours import last_evening

CHANGES = {
    "America/Chicago": (date(2027, 3, 14), date(2026, 11, 1)),
    "America/Phoenix": (date(2027, 3, 14), date(2026, 11, 1)),
    "Australia/Lord_Howe": (date(2026, 10, 4), date(2027, 4, 4)),
    "Pacific/Apia": (date(2020, 9, 27), date(2021, 4, 4)),
}
"""From the IANA time zone database. Phoenix changes no clock, Lord Howe by 30 minutes; Apia changed until 2021."""
STEP = timedelta(minutes=15)
DAY_QUARTERS = 96


def changed(rounds: int) -> dict[str, Any]:
    """17: so many wall times of the day, the first quarters first, in each zone around both of its changes."""
    begun = clock.monotonic()
    count = lost = doubled = control = 0
    for zone, days in CHANGES.items():
        for day in days:
            reads = list(_reads(zone, day))
            for quarter in range(min(rounds, DAY_QUARTERS)):
                at = time(quarter // 4, quarter % 4 * 15)
                wanted = {each: _wanted(reads, datetime.combine(each, at)) for each in _around(day)}
                told = _told(zone, at, reads)
                count += len(wanted)
                lost += sum(told.get(each, [None])[0] != instant for each, instant in wanted.items())
                doubled += sum(len(told.get(each, [])) > 1 for each in wanted)
                read = [clock_reads.date() for _, clock_reads in reads if clock_reads.time() == at]
                control += sum(read.count(each) != 1 for each in wanted)
    return {
        "fault": 17,
        "what": f"evenings around {2 * len(CHANGES)} change days in {len(CHANGES)} zones, each once at its time",
        "count": count,
        "lost": lost,
        "doubled": doubled,
        "control_failed": control,
        "control": f"sent whenever a clock reads the wall time: {control} evenings without a message or with two",
        "seconds": round(clock.monotonic() - begun, 1),
    }


FAULTS = {17: changed}


def _around(day: date) -> list[date]:
    return [day + timedelta(days=offset) for offset in (-1, 0, 1)]


def _reads(zone: str, day: date) -> Iterator[tuple[datetime, datetime]]:
    """(instant, what the clock reads) of every quarter from the eve of the day before to the end of the day after."""
    at = datetime.combine(day, time(), UTC) - timedelta(hours=42)
    while (reads := at.astimezone(ZoneInfo(zone)).replace(tzinfo=None)).date() < day + timedelta(days=2):
        yield at, reads
        at += STEP


def _wanted(reads: list[tuple[datetime, datetime]], wall: datetime) -> datetime:
    exact = [instant for instant, clock_reads in reads if clock_reads == wall]
    return min(exact) if exact else min(instant for instant, clock_reads in reads if clock_reads > wall)


def _told(zone: str, at: time, reads: list[tuple[datetime, datetime]]) -> dict[date, list[datetime]]:
    """When each evening's message goes if a sweep a quarter sends what the rule calls a new evening."""
    told: dict[date, list[datetime]] = {}
    before = None
    for instant, _ in reads:
        day, due = last_evening(instant, zone, at)
        if day != before:
            told.setdefault(day, []).append(max(due, instant) if before else due)
        before = day
    return told
