"""Words for figures on pages: acres or hectares, durations, stretches of hours, what to bring."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import template

from core.models import Holding
from jobs.windows.words import VERDICTS, source_words
from plots import units

register = template.Library()


@register.filter
def area(acres: float | None, holding: Holding) -> str:
    """Acres, or hectares where the holding counts metric."""
    found = units.area(acres, holding.units)
    return "" if found is None else f"{found['value']:.1f} {found['unit']}"


@register.filter
def duration(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    return f"{rest} min" if not hours else f"{hours} h" if not rest else f"{hours} h {rest:02d}"


@register.filter
def stretch(hours: Mapping[str, Any]) -> str:
    """ "Sat 9 May 06:40 to 10:15" in the property's zone."""
    zone = ZoneInfo(hours["zone"])
    starts, ends = hours["from"].astimezone(zone), hours["to"].astimezone(zone)
    return f"{starts:%a} {starts.day} {starts:%b} {starts:%H:%M} to {ends:%H:%M}"


@register.filter
def window_hours(window: Mapping[str, Any], zone: str) -> str:
    """As `stretch`, of hours that do not carry their zone."""
    return stretch({**window, "zone": zone})


@register.filter
def local(instant: datetime, holding: Holding) -> str:
    at = instant.astimezone(ZoneInfo(holding.zone))
    return f"{at:%a} {at.day} {at:%b} {at:%Y %H:%M}"


@register.filter
def source(told: Mapping[str, Any]) -> str:
    """What stands behind a limit, a hold or a rule, and what it is worth."""
    return source_words(told["source_title"], told["worth"])


@register.filter
def gain(table: Mapping[str, Any]) -> str:
    """What a replant gains or loses by one table, in whole points of the highest yield."""
    low, high = round(table["gain_low"]), round(table["gain_high"])
    if low == high == 0:
        return "Planting again gains nothing and loses nothing."
    if high <= 0:
        return f"Planting again would lose {_points(-high, -low)}."
    return f"Planting again would gain {_points(low, high)}." if low >= 0 else (
        f"Planting again may lose {_points(-low, -low)} or gain {_points(high, high)}."
    )  # fmt: skip


def _points(low: int, high: int) -> str:
    much = f"about {high}" if low == high else f"{low} to {high}"
    return f"{much} point{'s' if high != 1 else ''}"


@register.filter
def verdict(key: str) -> str:
    """What it means that a limit does not hold."""
    return VERDICTS[key]


@register.filter
def words(key: str) -> str:
    return key.replace("_", " ")


@register.filter
def bring(needs: Mapping[str, Any]) -> str:
    """Machines, materials with amounts, and who has to be there, in one line."""
    parts = list(needs["machines"])
    for material in needs["materials"]:
        much = f" {material['amount']:g} {material['unit']}" if material["amount"] else ""
        parts.append(f"{material['name']}{much}")
    parts += [f"somebody certified as {skill}" for skill in needs["skills"]]
    return ", ".join(parts)
