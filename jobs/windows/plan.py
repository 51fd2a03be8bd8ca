"""What the written plan of a burn unit asks of the hours, beside the general limits, which stay. Pure.

A figure that the plan names and nobody knows leaves no hour: mixing height, fuel moisture, days since rain, and the
wind's direction where something has to be spared from smoke."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from jobs.windows.limits import Away, Between, DryBefore, Limit, Rank, Rule

SOURCE = "manager"
DAY_H = 24
ALOFT = "transport_dir_deg"
RAIN_IN = 0.1
"""Rain from which the days are counted where the plan does not say (from memory)."""


def plan_limits(plan: Mapping[str, Any], dry_first: int = 0) -> list[Limit]:
    """The limits of a plan's figures; `dry_first` are the hours before the first that are known to have been dry.

    Wind aloft that carries smoke towards a place binds where it is forecast (`OPTIONAL`)."""
    found = []
    if "mixing_least_ft" in plan:
        found.append(_limit("mixing", "mixing height", "ft", 500, Between("mixing_ft", plan["mixing_least_ft"])))
    if "moisture_least_pct" in plan or "moisture_most_pct" in plan:
        least, most = plan.get("moisture_least_pct", float("-inf")), plan.get("moisture_most_pct", float("inf"))
        band = Between(moisture_name(plan), least, most)
        found.append(_limit("moisture", "fine fuel moisture", "%", 1, band))
    if "dry_days" in plan:
        rain = plan.get("dry_rain_in", RAIN_IN)
        rule = DryBefore(DAY_H * plan["dry_days"], rain, "", dry_first)
        found.append(_limit("dry_days", f"hours since more than {rain:g} in of rain", "h", 12, rule))
    for at, place in enumerate(plan.get("smoke", ()), start=1):
        for key, wind, by in ((f"smoke_{at}", "wind", "wind_dir_deg"), (f"smoke_{at}_aloft", "wind aloft", ALOFT)):
            rule_away = Away((float(place["bearing_deg"]),), float(place["degrees"]), by)
            found.append(_limit(key, f"{wind} towards {place['name']}", "degrees", 15, rule_away))
    return found


def optional_of(limits: Iterable[Limit]) -> frozenset[str]:
    """Keys that bind only where their quantity is forecast at all."""
    return frozenset(limit.key for limit in limits if limit.key.endswith("_aloft"))


def moisture_name(plan: Mapping[str, Any]) -> str:
    """The column of fine fuel moisture for the slope and shade of the plan's unit."""
    return f"fuel_moisture_pct:{int(plan['shaded'])}:{plan['aspect_deg']:g}:{plan['slope_pct']:g}"


def _limit(key: str, what: str, unit: str, scale: float, rule: Rule) -> Limit:
    return Limit(f"plan_{key}", what, unit, float(scale), rule, SOURCE, Rank.PLAN)
