"""How many tanks or hoppers an area takes, and how long that is. Pure."""

from __future__ import annotations

from math import ceil, floor

PRECISION = 9


def loads(acres: float, acres_a_load: float) -> tuple[float, ...]:
    """Acres of each load, full ones first; none for no acres."""
    if acres < 0 or acres_a_load <= 0:
        raise ValueError("Acres lie at or above 0, and a load covers more than none.")
    count = ceil(round(acres / acres_a_load, PRECISION))
    return tuple(round(min(acres_a_load, acres - at * acres_a_load), PRECISION) for at in range(count))


def work_minutes(acres: float, *, acres_per_hour: float, fills: int = 0, fill_min: float = 0.0) -> int:
    """Whole minutes for the area with its fills, to the nearest one: an estimate, unlike waits and hours."""
    if acres_per_hour <= 0:
        raise ValueError("The rate of work lies above 0 acres an hour.")
    return max(1, floor(acres / acres_per_hour * 60 + fills * fill_min + 0.5))


def acres_until(minutes: int, *, acres_a_load: float, acres_per_hour: float, fill_min: float, acres: float) -> float:
    """Acres in whole loads that are done within so many minutes: a load that cannot be finished is not begun."""
    done, spent = 0.0, 0.0
    for load in loads(acres, acres_a_load):
        spent += fill_min + load / acres_per_hour * 60
        if spent > minutes:
            break
        done += load
    return round(done, PRECISION)
