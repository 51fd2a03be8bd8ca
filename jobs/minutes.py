"""Between aware datetimes, civil days and the graph's whole minutes since 1970-01-01 UTC."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from jobs.graph.data import FAR, NEG

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def floor_minute(instant: datetime) -> int:
    """The whole minute at or before an aware instant: for upper bounds and for `now`."""
    return int(instant.timestamp() // 60)


def ceil_minute(instant: datetime) -> int:
    """The whole minute at or after an aware instant: for lower bounds."""
    return -int(-instant.timestamp() // 60)


@lru_cache(maxsize=65_536)
def instant(minute: int | None) -> datetime | None:
    """The aware UTC instant of a minute; None for None, NEG and FAR."""
    if minute is None or not NEG < minute < FAR:
        return None
    try:
        return EPOCH + timedelta(minutes=minute)
    except OverflowError:
        return None


@lru_cache(maxsize=65_536)
def day_start(zone: str, day: date) -> int:
    """First minute of a local civil day; where midnight is skipped the day starts at the skip."""
    return floor_minute(datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(zone)))


def day_end(zone: str, day: date) -> int:
    """First minute of the next local day: the exclusive end of an inclusive last day."""
    return day_start(zone, day + timedelta(days=1))


@lru_cache(maxsize=65_536)
def local_day(zone: str, minute: int) -> date:
    """The civil day in which a minute lies."""
    return (EPOCH + timedelta(minutes=minute)).astimezone(ZoneInfo(zone)).date()
