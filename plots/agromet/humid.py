"""Humid air: saturation, relative humidity, dew point, wet bulb.

Temperatures in degrees Celsius, relative humidity in percent, pressures in kPa.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

SEA_LEVEL_KPA = 101.3
PSYCHROMETER = 0.000662
"""Constant of a ventilated psychrometer, a degree (FAO-56, equation 15)."""
STEPS = 8
"""Newton steps; each squares the error, and five already reach the last digit."""


def saturation_kpa(temp_c: ArrayLike) -> Floats:
    """Saturation vapour pressure over water. Source: FAO Irrigation and Drainage Paper 56 (1998), equation 11."""
    temp = np.asarray(temp_c, dtype=float)
    return np.asarray(0.6108 * np.exp(17.27 * temp / (temp + 237.3)))


def relative_humidity_pct(temp_c: ArrayLike, dew_point_c: ArrayLike) -> Floats:
    """Actual by saturation vapour pressure, at most 100. A dew point above the temperature counts as saturated air."""
    return np.minimum(100.0 * saturation_kpa(dew_point_c) / saturation_kpa(temp_c), 100.0)


def dew_point_c(temp_c: ArrayLike, humidity_pct: ArrayLike) -> Floats:
    """The temperature at which this air is saturated: the inverse of `saturation_kpa`.

    NaN where humidity is 0 or below, or above 100."""
    humidity = np.asarray(humidity_pct, dtype=float)
    possible = np.where((humidity > 0) & (humidity <= 100), humidity, np.nan)
    temp = np.asarray(temp_c, dtype=float)
    log = np.log(possible / 100.0) + 17.27 * temp / (temp + 237.3)
    return np.asarray(237.3 * log / (17.27 - log))


def wet_bulb_c(temp_c: ArrayLike, humidity_pct: ArrayLike, pressure_kpa: ArrayLike = SEA_LEVEL_KPA) -> Floats:
    """What a ventilated wet thermometer shows: the psychrometer equation of FAO-56 (15), solved for it.

    Over liquid water, also below freezing. NaN where humidity is not from 0 to 100. Closer than fitted formulas, whose
    error of up to a degree is half of a spray band."""
    temp, humidity = np.asarray(temp_c, dtype=float), np.asarray(humidity_pct, dtype=float)
    possible = np.where((humidity >= 0) & (humidity <= 100), humidity, np.nan)
    vapour = saturation_kpa(temp) * possible / 100.0
    slope = PSYCHROMETER * np.asarray(pressure_kpa, dtype=float)
    wet = np.asarray(temp + 0.0 * vapour)  # from above, where the equation is convex: Newton never overshoots
    for _ in range(STEPS):
        saturated = saturation_kpa(wet)
        off = saturated - slope * (temp - wet) - vapour
        wet = wet - off / (saturated * 17.27 * 237.3 / (wet + 237.3) ** 2 + slope)
    return wet


def wet_bulb_depression_c(
    temp_c: ArrayLike, humidity_pct: ArrayLike, pressure_kpa: ArrayLike = SEA_LEVEL_KPA
) -> Floats:
    """Dry-bulb less wet-bulb temperature: how fast droplets dry."""
    return np.asarray(temp_c, dtype=float) - wet_bulb_c(temp_c, humidity_pct, pressure_kpa)
