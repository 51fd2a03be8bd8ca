"""Fine dead fuel moisture by the published tables, daytime only, and the probability of ignition.

Tables A to D of the Fosberg and Rothermel procedure as the National Wildfire Coordinating Group publishes it (Fire
Behavior Field Reference Guide, PMS 437). What the tables do not cover has no answer and is never extrapolated.
"""

from __future__ import annotations

from bisect import bisect_right

import numpy as np
from numpy.typing import ArrayLike, NDArray

_ROWS_F = (10, 30, 50, 70, 90, 110)
_REFERENCE = tuple(
    tuple(int(cell) for cell in row.split())
    for row in (
        "1 2 2 3 4 5 5 6 7 8 8 8 9 9 10 11 12 12 13 13 14",
        "1 2 2 3 4 5 5 6 7 7 7 8 9 9 10 10 11 12 13 13 13",
        "1 2 2 3 4 5 5 6 6 7 7 8 8 9 9 10 11 12 12 12 13",
        "1 1 2 2 3 4 5 5 6 7 7 8 8 8 9 10 10 11 12 12 13",
        "1 1 2 2 3 4 4 5 6 7 7 8 8 8 9 10 10 11 12 12 13",
        "1 1 2 2 3 4 4 5 6 7 7 8 8 8 9 10 10 11 12 12 12",
    )
)
"""Table A: percent by temperature band (rows, degrees F) and relative humidity in steps of 5 percent."""

_COLUMNS_H = (8, 10, 12, 14, 16, 18, 20)
_WARM, _BETWEEN, _COLD = "May to July", "February to April, August to October", "November to January"
_SEASON = (_COLD, _BETWEEN, _BETWEEN, _BETWEEN, _WARM, _WARM, _WARM, _BETWEEN, _BETWEEN, _BETWEEN, _COLD, _COLD)
_MISSING = ""
"""Table D has no figures for steep western slopes in the open."""

_OPEN = {
    _WARM: {
        "N": ("234 111 001 001 111 234", "344 122 112 112 122 344"),
        "E": ("223 111 001 001 112 344", "122 001 001 112 234 456"),
        "S": ("233 111 001 001 111 233", "233 112 011 011 112 233"),
        "W": ("234 112 001 001 011 233", "456 234 112 001 001 122"),
    },
    _BETWEEN: {
        "N": ("345 123 112 112 123 345", "345 334 234 234 334 345"),
        "E": ("345 123 111 112 124 345", "334 111 111 123 345 456"),
        "S": ("345 122 111 111 123 345", "345 122 011 011 122 345"),
        "W": ("345 123 111 111 123 345", "456 345 123 111 111 334"),
    },
    _COLD: {
        "N": ("456 345 234 234 345 456", "456 456 456 456 456 456"),
        "E": ("456 344 233 233 345 456", "456 234 223 344 456 456"),
        "S": ("456 345 233 223 344 456", "456 233 112 112 233 456"),
        "W": ("456 345 233 233 345 456", _MISSING),
    },
}
"""Tables B, C, D in the open: by aspect, slopes to 30 percent and above; a cell is below, level, above."""

_SHADED = {
    _WARM: {
        "N": "455 345 334 334 345 455",
        "E": "445 345 334 344 345 456",
        "S": "445 345 334 334 345 455",
        "W": "456 345 334 334 345 445",
    },
    _BETWEEN: {
        "N": "456 455 345 345 455 456",
        "E": "456 345 345 345 456 456",
        "S": "456 345 345 345 345 456",
        "W": "456 456 345 345 345 456",
    },
    _COLD: dict.fromkeys("NESW", "456 456 456 456 456 456"),
}


class NotCovered(ValueError):
    """The published tables have no figure for this; the sentence says for what."""


def fuel_moisture_pct(
    temp_f: float,
    humidity_pct: float,
    *,
    month: int,
    hour: float,
    shaded: bool,
    aspect_deg: float = 180.0,
    slope_pct: float = 0.0,
    fire_ft_above_weather: float = 0.0,
) -> int:
    """Fine dead (1-hour) fuel moisture in percent.

    `hour` is local time from 0 to below 24, `aspect_deg` the way a slope faces, `shaded` more than half by canopy and
    clouds, `fire_ft_above_weather` how far the fire is above (1,000 to 2,000 ft) or below the weather site.

    Raises:
        NotCovered: night, below 10 degrees, missing figures, or a difference of height above 2,000 ft.
    """
    if not (np.isfinite(temp_f) and 0 <= humidity_pct <= 100):
        raise NotCovered("Temperature or humidity is missing.")
    if temp_f < _ROWS_F[0]:
        raise NotCovered("The tables begin at 10 F.")
    if abs(fire_ft_above_weather) > 2000:
        raise NotCovered("The tables go to 2,000 ft between the weather site and the fire.")
    column = bisect_right(_COLUMNS_H, hour) - 1
    if not 0 <= column < len(_COLUMNS_H) - 1:
        raise NotCovered("The tables hold from 8:00 to 20:00; at night there is no figure.")
    reference = _REFERENCE[bisect_right(_ROWS_F, temp_f) - 1][int(humidity_pct // 5)]
    season, aspect = _SEASON[month - 1], _aspect(aspect_deg)
    cells = _SHADED[season][aspect] if shaded else _OPEN[season][aspect][slope_pct > 30]
    if cells == _MISSING:
        raise NotCovered("The winter table has no figures for western slopes above 30 percent in the open.")
    place = 0 if fire_ft_above_weather <= -1000 else 2 if fire_ft_above_weather >= 1000 else 1
    return reference + int(cells.split()[column][place])


def _aspect(degrees: float) -> str:
    turned = degrees % 360
    return "N" if turned <= 45 or turned > 315 else "E" if turned <= 135 else "S" if turned <= 225 else "W"


def ignition_probability(temp_f: ArrayLike, moisture_pct: ArrayLike, shade: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Chance from 0 to 1 that a firebrand starts a fire in fine fuel; `shade` is the shaded share of the fuel bed.

    Source: Schroeder 1969 in the form of the Forest Service's open fire-behaviour code; regression values only, the
    field guide's own table was not read."""
    fuel_c = (np.asarray(temp_f, dtype=float) + 25.0 - 20.0 * np.asarray(shade, dtype=float) - 32.0) * 5.0 / 9.0
    m = np.asarray(moisture_pct, dtype=float) / 100.0
    heat = 144.51 - 0.266 * fuel_c - 0.00058 * fuel_c**2 - fuel_c * m + 18.54 * (1.0 - np.exp(-15.1 * m)) + 640.0 * m
    x = 0.1 * (400.0 - np.minimum(heat, 400.0))
    return np.clip(0.000048 * x**4.3 / 50.0, 0.0, 1.0)
