"""Sun times of a place. Pure; by the library astral, whose figures tests compare with another ephemeris."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import dawn, dusk, sunrise, sunset

CIVIL, NAUTICAL, ASTRONOMICAL = 6.0, 12.0, 18.0
"""How far the sun's centre is below the horizon at the ends of the twilights, degrees (United States Naval
Observatory, Almanac for Computers)."""


def daylight(latitude: float, longitude: float, day: date, zone: str) -> tuple[int, int] | None:
    """Sunrise and sunset of a local civil day in whole minutes since 1970-01-01 UTC, rounded inwards.

    None where the sun does not rise or does not set on that day; nobody is told it is light then. Degrees north and
    east; `zone` is an IANA name."""
    observer, tz = Observer(latitude, longitude), ZoneInfo(zone)
    try:
        rises = sunrise(observer, date=day, tzinfo=tz)
        sets = sunset(observer, date=day, tzinfo=tz)
    except ValueError:
        return None
    start, end = -(-_seconds(rises) // 60), _seconds(sets) // 60
    return (start, end) if start < end else None


def twilight(latitude: float, longitude: float, day: date, zone: str, below: float = CIVIL) -> tuple[int, int] | None:
    """Dawn and dusk of a local civil day, when the sun stands `below` degrees under the horizon; minutes as `daylight`.

    None where it does not sink so far on that day, or does not come up so far."""
    observer, tz = Observer(latitude, longitude), ZoneInfo(zone)
    try:
        begins, ends = dawn(observer, day, below, tz), dusk(observer, day, below, tz)
    except ValueError:
        return None
    start, end = -(-_seconds(begins) // 60), _seconds(ends) // 60
    return (start, end) if start < end else None


def _seconds(instant: datetime) -> int:
    return int(instant.astimezone(UTC).timestamp())
