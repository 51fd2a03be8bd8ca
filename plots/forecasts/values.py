"""Hours, rain totals and forecasts as every service's reply is read into them, and the units on the way."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any


class Unusable(ValueError):
    """A reply that cannot serve; the sentence says why, and nothing of it is kept."""


@dataclass(frozen=True, slots=True)
class HourValues:
    """One hour from `at`, whole minutes since 1970-01-01 UTC. None is missing.

    Rain is not here: services give totals over stretches of their own (`RainTotal`)."""

    at: int
    temp_f: float | None = None
    dew_point_f: float | None = None
    humidity_pct: float | None = None
    wind_mph: float | None = None
    gust_mph: float | None = None
    wind_dir_deg: float | None = None
    sky_pct: float | None = None
    rain_chance_pct: float | None = None
    mixing_ft: float | None = None
    transport_mph: float | None = None
    transport_dir_deg: float | None = None
    thunder_pct: float | None = None
    lightning_level: float | None = None


VALUES = tuple(field.name for field in fields(HourValues) if field.name != "at")

RANGES = {
    "temp_f": (-90.0, 140.0),
    "dew_point_f": (-110.0, 100.0),
    "humidity_pct": (0.0, 100.0),
    "wind_mph": (0.0, 250.0),
    "gust_mph": (0.0, 300.0),
    "wind_dir_deg": (0.0, 360.0),
    "sky_pct": (0.0, 100.0),
    "rain_chance_pct": (0.0, 100.0),
    "mixing_ft": (0.0, 40_000.0),
    "transport_mph": (0.0, 250.0),
    "transport_dir_deg": (0.0, 360.0),
    "thunder_pct": (0.0, 100.0),
    "lightning_level": (0.0, 6.0),
    "rain_in": (0.0, 60.0),
}
"""What the air can do; a figure outside is a fault of the service, so it is missing."""


@dataclass(frozen=True, slots=True)
class RainTotal:
    """Inches of rain in all from `starts` to `ends` (exclusive, minutes): never a rate, never copied to each hour."""

    starts: int
    ends: int
    inches: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """`issued` is the service's own time of issue. Hours in order, each once; gaps are left out."""

    issued: int
    hours: tuple[HourValues, ...]
    rain: tuple[RainTotal, ...]


def fahrenheit(celsius: float) -> float:
    return celsius * 1.8 + 32.0


CONVERSIONS: Mapping[str, Callable[[float], float]] = {
    "degC": fahrenheit,
    "degF": float,
    "km_h-1": lambda speed: speed / 1.609344,
    "m_s-1": lambda speed: speed * 3600.0 / 1609.344,
    "mph": float,
    "m": lambda height: height / 0.3048,
    "mm": lambda depth: depth / 25.4,
    "in": float,
    "percent": float,
    "degree_(angle)": float,
    "1": float,
}
"""From a service's unit to ours, by its short name. A mile is 1,609.344 m, an inch 25.4 mm, a foot 0.3048 m."""


def value_of(name: str, raw: Any, unit: str) -> float | None:
    """A raw figure in our unit, None where it is no finite number, its unit is unknown or it is out of range."""
    convert = CONVERSIONS.get(unit)
    if convert is None or isinstance(raw, bool) or not isinstance(raw, int | float) or not math.isfinite(raw):
        return None
    value = convert(float(raw))
    least, most = RANGES[name]
    return value if least <= value <= most else None


def forecast_of(
    issued: int, columns: Mapping[int, Mapping[str, float | None]], rain: Mapping[tuple[int, int], float]
) -> Forecast:
    """Put a forecast together from values by hour and totals by stretch.

    Raises:
        Unusable: not one hour has a value.
    """
    hours = tuple(
        HourValues(at, **columns[at]) for at in sorted(columns) if any(v is not None for v in columns[at].values())
    )
    if not hours:
        raise Unusable("The reply has no hour with a value in it.")
    return Forecast(issued, hours, tuple(RainTotal(start, end, rain[start, end]) for start, end in sorted(rain)))
