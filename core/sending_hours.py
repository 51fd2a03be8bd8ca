"""When a message may go: evenings and quiet hours by wall time, right on both days on which clocks change. Pure.

A wall time in a gap is the first valid instant after the gap; one that comes twice is its first occurrence. Hours are
quiet where the wall clock reads so, in both passes of an hour that comes twice.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

EVENING_LASTS = timedelta(hours=3)
"""News of these hours after the evening's time still go the same evening, if nothing went yet (a setting of ours)."""


def wall(zone: str, day: date, at: time) -> datetime:
    """The instant (UTC) of a wall time: after a gap its first valid instant, of two the first."""
    tz, naive = ZoneInfo(zone), datetime.combine(day, at)
    instant = naive.replace(tzinfo=tz).astimezone(UTC)
    moved = instant.astimezone(tz).replace(tzinfo=None) - naive
    if not moved:
        return instant
    offset = instant.astimezone(tz).utcoffset()
    low, high = 0, int(moved.total_seconds())  # the clock jumped at most so many seconds before
    while low < high:
        middle = (low + high + 1) // 2
        if (instant - timedelta(seconds=middle)).astimezone(tz).utcoffset() == offset:
            low = middle
        else:
            high = middle - 1
    return instant - timedelta(seconds=low)


def local_date(zone: str, at: datetime) -> date:
    """The civil day of an instant."""
    return at.astimezone(ZoneInfo(zone)).date()


def is_quiet(at: datetime, zone: str, quiet_from: time | None, quiet_to: time | None) -> bool:
    """The wall clock reads a time in [from, to), over midnight where `to` is the earlier; none or equal: never."""
    if quiet_from is None or quiet_to is None or quiet_from == quiet_to:
        return False
    reads = at.astimezone(ZoneInfo(zone)).time()
    if quiet_from < quiet_to:
        return quiet_from <= reads < quiet_to
    return reads >= quiet_from or reads < quiet_to


def next_allowed(at: datetime, zone: str, quiet_from: time | None, quiet_to: time | None) -> datetime:
    """`at` itself outside quiet hours, else the instant at which they end."""
    if quiet_to is None or not is_quiet(at, zone, quiet_from, quiet_to):
        return at
    day, tz = local_date(zone, at), ZoneInfo(zone)
    ends = []
    for offset in range(-1, 4):
        naive = datetime.combine(day + timedelta(days=offset), quiet_to)
        ends += [wall(zone, naive.date(), quiet_to), naive.replace(tzinfo=tz, fold=1).astimezone(UTC)]
    return min(end for end in ends if end > at and not is_quiet(end, zone, quiet_from, quiet_to))


def evening(zone: str, day: date, at: time, quiet_from: time | None = None, quiet_to: time | None = None) -> datetime:
    """The instant of a local day's evening message; one in quiet hours moves to their end."""
    return next_allowed(wall(zone, day, at), zone, quiet_from, quiet_to)


def last_evening(
    now: datetime, zone: str, at: time, quiet_from: time | None = None, quiet_to: time | None = None
) -> tuple[date, datetime]:
    """(local day, instant) of the latest evening at or before `now`; a civil day that never was has none."""
    day = local_date(zone, now)
    for offset in range(4):
        then = day - timedelta(days=offset)
        instant = evening(zone, then, at, quiet_from, quiet_to)
        if instant <= now and local_date(zone, wall(zone, then, at)) == then:
            return then, instant
    raise AssertionError("four days without an evening")
