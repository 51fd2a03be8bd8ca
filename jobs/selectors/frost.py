"""How often it still freezes after a day of planting at a place, by the published freeze days of its series."""

from __future__ import annotations

from datetime import date

from plots.forecasts.stations import FreezeDays, freeze_risk
from plots.models import PropertySeries

FREEZES_F = 32
PLANTS = frozenset({"plant", "sow"})


def frost_sentence(operation: str, property_id: int, day: date) -> str:
    """In how many years it freezes later in spring, or has frozen by then in autumn; "" where nothing is planted."""
    if operation not in PLANTS:
        return ""
    for ranked in PropertySeries.objects.filter(property_id=property_id).select_related("series").order_by("rank"):
        table = ranked.series.freeze.get(str(FREEZES_F))
        if not table:
            continue
        levels = {
            season: {int(level): at for level, at in table.get(season, {}).items()} for season in ("spring", "autumn")
        }
        risk = freeze_risk(FreezeDays(FREEZES_F, **levels), f"{day:%m-%d}")
        if risk is not None:
            spring = f"{day:%m-%d}" < "07-01"
            when = "it still freezes after" if spring else "it has frozen before"
            return f"In {_share(*risk)} of 100 years {when} {day.day} {day:%b} ({FREEZES_F} F, {ranked.series})."
    return "Freeze days are not known here: nobody typed those of a station near by."


def _share(more_than: int, at_most: int) -> str:
    if more_than == 0:
        return f"at most {at_most}"
    return f"more than {more_than}" if at_most == 100 else f"{more_than} to {at_most}"
