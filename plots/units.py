"""Areas in the units people read. Acres are stored; the rest is shown. Factors are exact, and pure.

The foot is 0.3048 m exactly (the international foot, United States and others, 1959), an acre 43,560 square feet and a
hectare 10,000 square metres (NIST Handbook 44, appendix C), so one acre is 0.40468564224 ha.
"""

from __future__ import annotations

FOOT_M = 0.3048
ACRE_SQ_FT = 43_560
ACRE_SQ_M = ACRE_SQ_FT * FOOT_M**2
HECTARE_SQ_M = 10_000
HECTARES_PER_ACRE = ACRE_SQ_M / HECTARE_SQ_M

METRIC = "metric"


def area(acres: float | None, units: str) -> dict[str, float | str] | None:
    """{"value", "unit"} of an area: acres as "ac", or where `units` is "metric" hectares as "ha"; None stays None.

    The value is rounded to 0.01 of its unit."""
    if acres is None:
        return None
    if units == METRIC:
        return {"value": round(acres * HECTARES_PER_ACRE, 2), "unit": "ha"}
    return {"value": round(acres, 2), "unit": "ac"}
