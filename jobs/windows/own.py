"""Limits that machine, plot, person or holding set beside label and general defaults. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from jobs.windows.limits import Between, Limit, Rank

QUANTITIES: Mapping[str, tuple[str, str, float]] = {
    "wind_mph": ("wind", "mph", 2.0),
    "gust_mph": ("gusts", "mph", 5.0),
    "temp_f": ("temperature", "F", 5.0),
    "humidity_pct": ("relative humidity", "%", 5.0),
    "heat_index_f": ("heat index", "F", 5.0),
    "felt_cold_f": ("wind chill", "F", 5.0),
    "wet_bulb_depression_f": ("wet-bulb depression", "F", 3.6),
    "thunder_pct": ("chance of thunder", "%", 10.0),
    "rain_chance_pct": ("chance of rain", "%", 10.0),
    "mixing_ft": ("mixing height", "ft", 500.0),
    "soil_temp_f": ("soil temperature", "F", 5.0),
}
"""By quantity its words, its unit, and what counts as one step of it."""


def own_limit(key: int, quantity: str, least: float | None, most: float | None, whose: str, rank: Rank) -> Limit:
    """A bound that somebody set, as a stop; `whose` says in words who: it stands in every sentence of the limit."""
    what, unit, scale = QUANTITIES[quantity]
    band = Between(quantity, float("-inf") if least is None else least, float("inf") if most is None else most)
    return Limit(f"own_{key}", f"{what} ({whose})", unit, scale, band, "manager", rank)
