"""Reference evapotranspiration of a day, FAO-56 (Allen, Pereira, Raes and Smith: Crop evapotranspiration, FAO
Irrigation and Drainage Paper 56, Rome 1998). Penman-Monteith where its inputs exist, Hargreaves else.

SI units as in the paper: degrees Celsius, percent, metres a second, kPa, MJ a square metre and day, mm a day, metres
of elevation, latitude in degrees north, `day` the day of the year from 1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plots.agromet.humid import saturation_kpa

Floats = NDArray[np.float64]

MM_PER_MJ = 0.408
"""Water that a megajoule a square metre evaporates (equation 20)."""
INLAND = 0.16
"""Of the temperature-difference formula where no large water is near (equation 50)."""
STEFAN_BOLTZMANN = 4.903e-9
"""MJ a square metre, day and K^4."""


def pressure_kpa(elevation_m: ArrayLike) -> Floats:
    """Mean air pressure at an elevation (equation 7)."""
    return np.asarray(101.3 * ((293.0 - 0.0065 * np.asarray(elevation_m, dtype=float)) / 293.0) ** 5.26)


def psychrometric_constant(pressure: ArrayLike) -> Floats:
    """kPa a degree (equation 8)."""
    return np.asarray(0.000665 * np.asarray(pressure, dtype=float))


def wind_at_2_m(speed_m_s: ArrayLike, height_m: float) -> Floats:
    """Wind measured at a height over grass, brought to 2 m (equation 47)."""
    return np.asarray(np.asarray(speed_m_s, dtype=float) * 4.87 / np.log(67.8 * height_m - 5.42))


def mean_saturation_kpa(low_c: ArrayLike, high_c: ArrayLike) -> Floats:
    """Of a day's low and high (equation 12)."""
    return (saturation_kpa(low_c) + saturation_kpa(high_c)) / 2.0


def saturation_slope(temp_c: ArrayLike) -> Floats:
    """How fast saturation rises with temperature, kPa a degree (equation 13)."""
    temp = np.asarray(temp_c, dtype=float)
    return np.asarray(4098.0 * saturation_kpa(temp) / (temp + 237.3) ** 2)


def vapour_from_humidity_kpa(
    low_c: ArrayLike, high_c: ArrayLike, lowest_pct: ArrayLike, highest_pct: ArrayLike
) -> Floats:
    """Actual vapour pressure from the day's least and greatest relative humidity (equation 17)."""
    cool = saturation_kpa(low_c) * np.asarray(highest_pct, dtype=float)
    return np.asarray((cool + saturation_kpa(high_c) * np.asarray(lowest_pct, dtype=float)) / 200.0)


def vapour_from_wet_bulb_kpa(dry_c: ArrayLike, wet_c: ArrayLike, pressure: ArrayLike) -> Floats:
    """Actual vapour pressure from a ventilated psychrometer (equation 15)."""
    drop = np.asarray(dry_c, dtype=float) - np.asarray(wet_c, dtype=float)
    return np.asarray(saturation_kpa(wet_c) - 0.000662 * np.asarray(pressure, dtype=float) * drop)


def sun_geometry(latitude: ArrayLike, day: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """(inverse relative distance, declination, sunset hour angle), angles in radians (equations 23 to 25).

    Where the sun does not set the hour angle is pi, where it does not rise 0."""
    phi, j = np.radians(np.asarray(latitude, dtype=float)), np.asarray(day, dtype=float)
    distance = 1.0 + 0.033 * np.cos(2.0 * np.pi * j / 365.0)
    declination = 0.409 * np.sin(2.0 * np.pi * j / 365.0 - 1.39)
    angle = np.arccos(np.clip(-np.tan(phi) * np.tan(declination), -1.0, 1.0))
    return distance, declination, angle


def extraterrestrial_radiation(latitude: ArrayLike, day: ArrayLike) -> Floats:
    """Ra (equation 21)."""
    phi = np.radians(np.asarray(latitude, dtype=float))
    distance, declination, angle = sun_geometry(latitude, day)
    height = angle * np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.sin(angle)
    return np.asarray(24.0 * 60.0 / np.pi * 0.0820 * distance * height)


def daylight_hours(latitude: ArrayLike, day: ArrayLike) -> Floats:
    """N, the longest possible sunshine (equation 34)."""
    return np.asarray(24.0 / np.pi * sun_geometry(latitude, day)[2])


def clear_sky_radiation(extraterrestrial: ArrayLike, elevation_m: ArrayLike) -> Floats:
    """Rso (equation 37)."""
    share = 0.75 + 2e-5 * np.asarray(elevation_m, dtype=float)
    return np.asarray(share * np.asarray(extraterrestrial, dtype=float))


def net_longwave(low_c: ArrayLike, high_c: ArrayLike, vapour: ArrayLike, solar: ArrayLike, clear: ArrayLike) -> Floats:
    """Rnl (equation 39). The share of clear-sky radiation counts at most 1, as the paper limits it."""
    low, high = np.asarray(low_c, dtype=float) + 273.16, np.asarray(high_c, dtype=float) + 273.16
    black = STEFAN_BOLTZMANN * (low**4 + high**4) / 2.0
    share = np.minimum(np.asarray(solar, dtype=float) / np.asarray(clear, dtype=float), 1.0)
    return np.asarray(black * (0.34 - 0.14 * np.sqrt(np.asarray(vapour, dtype=float))) * (1.35 * share - 0.35))


def net_radiation(solar: ArrayLike, longwave: ArrayLike) -> Floats:
    """Rn of the reference grass: 0.77 of the sun's less what goes out again (equations 38 and 40)."""
    return np.asarray(0.77 * np.asarray(solar, dtype=float) - np.asarray(longwave, dtype=float))


def penman_monteith(
    mean_c: ArrayLike,
    net: ArrayLike,
    wind_2_m: ArrayLike,
    saturation: ArrayLike,
    vapour: ArrayLike,
    pressure: ArrayLike,
    soil_heat: ArrayLike = 0.0,
) -> Floats:
    """ETo in mm a day (equation 6), never below 0: dew is no evapotranspiration."""
    mean, wind = np.asarray(mean_c, dtype=float), np.asarray(wind_2_m, dtype=float)
    slope = saturation_slope(mean)
    gamma = psychrometric_constant(pressure)
    deficit = np.asarray(saturation, dtype=float) - np.asarray(vapour, dtype=float)
    energy = MM_PER_MJ * slope * (np.asarray(net, dtype=float) - np.asarray(soil_heat, dtype=float))
    drying = gamma * 900.0 / (mean + 273.0) * wind * deficit
    return np.asarray(np.maximum((energy + drying) / (slope + gamma * (1.0 + 0.34 * wind)), 0.0))


def hargreaves(low_c: ArrayLike, high_c: ArrayLike, mean_c: ArrayLike, extraterrestrial: ArrayLike) -> Floats:
    """ETo in mm a day from temperatures alone (equation 52).

    By the paper it tends to be low where wind is above 3 m/s and high where the air is humid. NaN where the high is
    below the low."""
    span = np.asarray(high_c, dtype=float) - np.asarray(low_c, dtype=float)
    root = np.sqrt(np.where(span >= 0, span, np.nan))
    water = MM_PER_MJ * np.asarray(extraterrestrial, dtype=float)
    return np.maximum(0.0023 * (np.asarray(mean_c, dtype=float) + 17.8) * root * water, 0.0)


def radiation_from_temperatures(
    low_c: ArrayLike, high_c: ArrayLike, extraterrestrial: ArrayLike, clear: ArrayLike
) -> Floats:
    """Rs where nobody measured it (equation 50, inland), never more than under a clear sky.

    NaN where the high is below the low."""
    span = np.asarray(high_c, dtype=float) - np.asarray(low_c, dtype=float)
    root = np.sqrt(np.where(span >= 0, span, np.nan))
    return np.asarray(np.minimum(INLAND * root * np.asarray(extraterrestrial, dtype=float), clear))


def of_days(
    low_c: ArrayLike,
    high_c: ArrayLike,
    *,
    latitude: float,
    day: ArrayLike,
    vapour: ArrayLike,
    wind_2_m: ArrayLike,
    elevation_m: float,
    solar: ArrayLike = np.nan,
) -> tuple[Floats, NDArray[np.bool_]]:
    """(ETo of days in mm, which of them go by Penman-Monteith): those whose vapour pressure and wind are known. The
    others, NaN in either, go by Hargreaves. Where `solar` is NaN the temperatures stand in for it."""
    low, high, known = (np.asarray(each, dtype=float) for each in (low_c, high_c, solar))
    above = extraterrestrial_radiation(latitude, day)
    clear = clear_sky_radiation(above, elevation_m)
    sun = np.where(np.isnan(known), radiation_from_temperatures(low, high, above, clear), known)
    mean = (low + high) / 2.0
    with np.errstate(divide="ignore", invalid="ignore"):  # a sun that does not rise has no share of a clear sky
        net = net_radiation(sun, net_longwave(low, high, vapour, sun, clear))
    air = penman_monteith(mean, net, wind_2_m, mean_saturation_kpa(low, high), vapour, pressure_kpa(elevation_m))
    by_air = ~np.isnan(air)
    return np.where(by_air, air, hargreaves(low, high, mean, above)), by_air
