"""Heat and cold as people feel them: heat index, wind chill, bands of heat for work.

Temperatures in degrees Fahrenheit, relative humidity in percent, wind in miles an hour.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def heat_index_f(temp_f: ArrayLike, humidity_pct: ArrayLike) -> Floats:
    """Heat index in shade and light wind. Source: National Weather Service, Weather Prediction Center.

    The simple value, averaged with the temperature, stands below 80; there the regression takes over with its two
    adjustments. The published procedure jumps at that line, and so does this."""
    t, r = np.broadcast_arrays(np.asarray(temp_f, dtype=float), np.asarray(humidity_pct, dtype=float))
    simple = (0.5 * (t + 61.0 + (t - 68.0) * 1.2 + r * 0.094) + t) / 2.0
    full = (
        -42.379
        + 2.04901523 * t
        + 10.14333127 * r
        - 0.22475541 * t * r
        - 0.00683783 * t**2
        - 0.05481717 * r**2
        + 0.00122874 * t**2 * r
        + 0.00085282 * t * r**2
        - 0.00000199 * t**2 * r**2
    )
    dry = (r < 13) & (t >= 80) & (t <= 112)
    full = full - np.where(dry, (13 - r) / 4 * np.sqrt(np.maximum(17 - np.abs(t - 95), 0) / 17), 0.0)
    wet = (r > 85) & (t >= 80) & (t <= 87)
    full = full + np.where(wet, (r - 85) / 10 * (87 - t) / 5, 0.0)
    return np.where(np.isnan(t + r), np.nan, np.where(simple < 80, simple, full))


def wind_chill_f(temp_f: ArrayLike, wind_mph: ArrayLike) -> Floats:
    """Wind chill for 50 degrees and colder in wind above 3 mph, NaN elsewhere. Source: National Weather Service."""
    t, v = np.broadcast_arrays(np.asarray(temp_f, dtype=float), np.asarray(wind_mph, dtype=float))
    defined = (t <= 50) & (v > 3)
    power = np.where(defined, v, np.nan) ** 0.16
    return np.asarray(35.74 + 0.6215 * t - 35.75 * power + 0.4275 * t * power)


class HeatBand(StrEnum):
    """Bands of the heat index for outdoor work, Occupational Safety and Health Administration."""

    LOWER = "lower"
    MODERATE = "moderate"
    HIGH = "high"
    VERY_HIGH = "very high to extreme"


def heat_band(index_f: float, *, strenuous: bool = False, full_sun: bool = False) -> HeatBand | None:
    """The band of a heat index; None where it is unknown.

    103 stands in two of the published bands; the higher counts. The index assumes shade: full sun adds up to 15
    degrees, and strenuous work or protective clothing is treated as the next band up (the same source)."""
    felt = index_f + 15.0 if full_sun else index_f
    if np.isnan(felt):
        return None
    bands = list(HeatBand)
    at = 0 if felt < 91 else 1 if felt < 103 else 2 if felt <= 115 else 3
    return bands[min(at + strenuous, len(bands) - 1)]
