"""Stretches of minutes: free hours, daylight, hours nobody may enter. Pure set arithmetic on half-open intervals."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from jobs.minutes import floor_minute

Stretch = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Weekly:
    """Free hours of one weekday, 0 is Monday."""

    weekday: int
    starts: time
    ends: time


@dataclass(frozen=True, slots=True)
class OneDay:
    """Hours of one day that differ from the usual week."""

    day: date
    starts: time
    ends: time
    free: bool


def union(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Sorted and disjoint; touching stretches become one, empty ones vanish."""
    found: list[Stretch] = []
    for start, end in sorted(s for s in stretches if s[0] < s[1]):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return found


def intersect(left: Sequence[Stretch], right: Sequence[Stretch]) -> list[Stretch]:
    """What lies in both; both sorted and disjoint."""
    found, i, j = [], 0, 0
    while i < len(left) and j < len(right):
        start, end = max(left[i][0], right[j][0]), min(left[i][1], right[j][1])
        if start < end:
            found.append((start, end))
        if left[i][1] < right[j][1]:
            i += 1
        else:
            j += 1
    return found


def subtract(left: Sequence[Stretch], right: Iterable[Stretch]) -> list[Stretch]:
    """What lies in `left` and in none of `right`."""
    found = list(left)
    for start, end in right:
        found = [
            piece
            for low, high in found
            for piece in ((low, min(high, start)), (max(low, end), high))
            if piece[0] < piece[1]
        ]
    return found


def minute_at(zone: str, day: date, at: time) -> int:
    """The minute of a wall time; in a gap the first instant after it, in a fold the first of the two."""
    tz = ZoneInfo(zone)
    wall = datetime.combine(day, at, tzinfo=tz)
    minute = floor_minute(wall)
    offset_before = wall.utcoffset()
    back = datetime.fromtimestamp(minute * 60, tz)
    if back.replace(tzinfo=None) != wall.replace(tzinfo=None, second=0, microsecond=0) and offset_before is not None:
        low, high = minute - 180, minute
        while low < high:  # the jump lies between; find its first minute
            middle = (low + high) // 2
            if datetime.fromtimestamp(middle * 60, tz).utcoffset() == back.utcoffset():
                high = middle
            else:
                low = middle + 1
        return low
    return minute


def free_on(day: date, zone: str, week: Iterable[Weekly], exceptions: Iterable[OneDay]) -> list[Stretch]:
    """A person's free stretches of one day in their zone: the week's, with the day's exceptions added or taken off."""
    usual = [(minute_at(zone, day, w.starts), minute_at(zone, day, w.ends)) for w in week if w.weekday == day.weekday()]
    here = [e for e in exceptions if e.day == day]
    added = [(minute_at(zone, day, e.starts), minute_at(zone, day, e.ends)) for e in here if e.free]
    taken = [(minute_at(zone, day, e.starts), minute_at(zone, day, e.ends)) for e in here if not e.free]
    return subtract(union([*usual, *added]), taken)
