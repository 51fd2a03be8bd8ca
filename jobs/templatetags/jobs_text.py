"""Words for figures on pages: acres or hectares, durations, stretches of hours, what to bring."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import template

from core.models import Holding
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
