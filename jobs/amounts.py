"""Amounts with their units in words, the plural done right, for every sentence. Pure."""

from __future__ import annotations

_ONE = {
    "days": "day",
    "more days": "more day",
    "degree days": "degree day",
    "jobs": "job",
    "reports": "report",
    "things seen": "thing seen",
    "sheets": "sheet",
    "written reasons": "written reason",
}
_WORDS = {"hours": "h", "degree_days": "degree days", "rain_in": "in of rain on one day"}


def amount(value: float, unit: str) -> str:
    """ "1 day", "14 days", "36 h", "120 degree days", "1 in of rain on one day": an amount in its unit, which is
    one of `LagUnit` or a plural word."""
    word = _WORDS.get(unit, unit)
    said = f"{value:g}"
    return f"{said} {_ONE.get(word, word) if said == '1' else word}"


def span(minutes: int) -> str:
    """Minutes in words: "16 days 1 h", "-1 day 30 min", "0 min"."""
    days, rest = divmod(abs(minutes), 1440)
    hours, rest = divmod(rest, 60)
    parts = [amount(days, "days") if days else "", f"{hours} h" if hours else "", f"{rest} min" if rest else ""]
    return ("-" if minutes < 0 else "") + (" ".join(part for part in parts if part) or "0 min")
