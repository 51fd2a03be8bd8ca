"""Sun times of a place. Pure; by the library astral, whose figures tests compare with another ephemeris."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import sunrise, sunset


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


def _seconds(instant: datetime) -> int:
    return int(instant.astimezone(UTC).timestamp())
