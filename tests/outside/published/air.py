"""Evapotranspiration and humid air."""

from __future__ import annotations

import numpy as np

from plots.agromet import evapotranspiration as et
from plots.agromet import humid
from tests.outside.published import Row, Source

LIBRARY = "test suites of two public evapotranspiration libraries (PyETo, CSLSevap)"
FAO_TITLE = "Crop evapotranspiration, Irrigation and Drainage Paper 56 (Allen, Pereira, Raes, Smith), example {}"


def fao(example: int) -> Source:
    return Source("Food and Agriculture Organization", FAO_TITLE.format(example), "1998", LIBRARY)


MEHTA = Source(
    "Mehta", "Hargreaves worked example", "2006", "test suite of a public evapotranspiration library (PyETo)"
)


def uccle() -> dict[str, float]:
    """Every stage of example 18: 50 48 N, 100 m, 6 July."""
    low, high, solar = 12.3, 21.5, 22.07
    radiation = et.extraterrestrial_radiation(50.8, 187)
    clear = et.clear_sky_radiation(radiation, 100)
    vapour, saturation = et.vapour_from_humidity_kpa(low, high, 63, 84), et.mean_saturation_kpa(low, high)
    longwave = et.net_longwave(low, high, vapour, solar, clear)
    net, wind = et.net_radiation(solar, longwave), et.wind_at_2_m(2.78, 10)
    mean, pressure = (low + high) / 2, et.pressure_kpa(100)
    found = {
        "Ra": radiation,
        "Rso": clear,
        "Rnl": longwave,
        "Rn": net,
        "u2": wind,
        "ea": vapour,
        "deficit": saturation - vapour,
        "slope": et.saturation_slope(mean),
        "ETo": et.penman_monteith(mean, net, wind, saturation, vapour, pressure),
    }
    return {name: float(value) for name, value in found.items()}


def bangkok() -> dict[str, float]:
    """Example 17: 13 44 N, 2 m, April means, heat going into the ground."""
    low, high, vapour, solar = 25.6, 34.8, 2.85, 22.65
    radiation = et.extraterrestrial_radiation(13 + 44 / 60, 105)
    net = et.net_radiation(solar, et.net_longwave(low, high, vapour, solar, et.clear_sky_radiation(radiation, 2)))
    saturation, pressure = et.mean_saturation_kpa(low, high), et.pressure_kpa(2)
    found = {
        "Ra": radiation,
        "Rn": net,
        "es": saturation,
        "slope": et.saturation_slope(30.2),
        "gamma": et.psychrometric_constant(pressure),
        "ETo": et.penman_monteith(30.2, net, 2.0, saturation, vapour, pressure, 0.14),
    }
    return {name: float(value) for name, value in found.items()}


EVAPOTRANSPIRATION = [
    Row("Ra at 20 S on 3 September", lambda: et.extraterrestrial_radiation(-20, 246), 32.2, 0.1, fao(8)),
    Row("distance, declination, sunset angle", lambda: et.sun_geometry(-20, 246), (0.985, 0.120, 1.527), 1e-3, fao(8)),
    Row("longest sunshine there", lambda: et.daylight_hours(-20, 246), 11.7, 0.05, fao(9)),
    Row("pressure at 1,800 m", lambda: et.pressure_kpa(1800), 81.8, 0.05, fao(2)),
    Row("constant there", lambda: et.psychrometric_constant(et.pressure_kpa(1800)), 0.054, 5e-4, fao(2)),
    Row("mean saturation, 15 to 24.5 C", lambda: et.mean_saturation_kpa(15, 24.5), 2.39, 0.01, fao(3)),
    Row("vapour from a psychrometer", lambda: et.vapour_from_wet_bulb_kpa(25.6, 19.5, 87.9), 1.91, 0.01, fao(4)),
    Row("vapour from humidity", lambda: et.vapour_from_humidity_kpa(18, 25, 54, 82), 1.70, 0.01, fao(5)),
    Row("net longwave", lambda: et.net_longwave(19.1, 25.1, 2.1, 14.5, 18.8), 3.5, 0.05, fao(11)),
    Row("wind at 2 m", lambda: et.wind_at_2_m(3.2, 10), 2.4, 0.05, fao(14)),
    *(
        Row(f"Bangkok, April: {name}", lambda name=name: bangkok()[name], value, within, fao(17))
        for name, value, within in (
            ("Ra", 38.06, 0.03),
            ("Rn", 14.33, 0.02),
            ("es", 4.42, 0.01),
            ("slope", 0.246, 5e-4),
            ("gamma", 0.0674, 1e-4),
            ("ETo", 5.72, 0.02),
        )
    ),
    *(
        Row(f"Uccle, 6 July: {name}", lambda name=name: uccle()[name], value, within, fao(18))
        for name, value, within in (
            ("Ra", 41.09, 0.01),
            ("Rso", 30.90, 0.01),
            ("Rnl", 3.71, 0.01),
            ("Rn", 13.28, 0.02),
            ("u2", 2.079, 1e-3),
            ("ea", 1.409, 1e-3),
            ("deficit", 0.589, 1e-3),
            ("slope", 0.1221, 1e-4),
            ("ETo", 3.88, 0.02),
        )
    ),
    Row("Hargreaves, mean apart from high and low", lambda: et.hargreaves(28, 38, 35, 38.93715), 6.1, 0.05, MEHTA),
]

MID_MONTH = (15, 46, 74, 105, 135, 162, 198, 228, 258, 288, 318, 344)
RADIATION = {
    30: (21.1, 25.8, 31.4, 36.8, 40.0, 41.1, 40.4, 37.9, 33.3, 27.5, 22.3, 19.9),
    35: (18.1, 23.2, 29.4, 35.9, 40.0, 41.5, 40.6, 37.3, 31.7, 25.1, 19.4, 16.8),
    40: (15.0, 20.4, 27.2, 34.7, 39.7, 41.7, 40.6, 36.5, 29.9, 22.5, 16.4, 13.8),
    45: (11.9, 17.5, 24.8, 33.2, 39.2, 41.7, 40.4, 35.4, 27.9, 19.7, 13.4, 10.7),
}
STULL = Source(
    "American Meteorological Society",
    "Stull, Wet-bulb temperature from humidity and air temperature: stated error",
    "2011",
)
CALCULATOR = Source("an online psychrometric calculator", "wet-bulb temperature", "undated", "its page")
NWS_WET = Source(
    "National Weather Service", "wet-bulb calculator: 25 C, dew point 15 C, 1000 hPa", "undated", "a web copy"
)
NWS_PAIRS = Source("National Weather Service", "hourly forecast replies of the public weather.gov test set", "2024")
HALVES = Source("Texas A&M Forest Service", "prescribed burn handbook: rule of halves", "undated")


def _c(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def stull_c(temp_c: float, humidity_pct: float) -> float:
    """The fitted wet bulb of Stull, for its stated error only; the program solves the equation instead."""
    t, r = temp_c, humidity_pct
    return float(
        t * np.arctan(0.151977 * (r + 8.313659) ** 0.5)
        + np.arctan(t + r)
        - np.arctan(r - 1.676331)
        + 0.00391838 * r**1.5 * np.arctan(0.023101 * r)
        - 4.686035
    )


STULL_TABLE = (
    (20, 50, 13.70),
    (30, 50, 22.30),
    (30, 20, 15.90),
    (25, 60, 19.50),
    (15, 90, 13.85),
    (25, 40, 16.38),
    (32, 50, 24.02),
    (10, 50, 5.10),
)

HUMID = [
    *(
        Row(f"wet bulb at {t} C, {r} %", lambda t=t, r=r, p=p: humid.wet_bulb_c(t, r, p), value, within, source)
        for t, r, p, value, within, source in (
            (5, 50, 101.325, 1.345, 0.2, CALCULATOR),
            (10, 70, 101.325, 7.393, 0.2, CALCULATOR),
            (20, 90, 101.325, 18.863, 0.2, CALCULATOR),
            (30, 100, 101.325, 30.0, 0.01, CALCULATOR),
            (25, 53.8, 100.0, 18.59, 0.2, NWS_WET),
            (25.6, 1.91 / 3.2827 * 100, 87.9, 19.5, 0.05, fao(4)),
        )
    ),
    *(
        Row(
            f"Stull's fit is off by no more than it says at {t} C, {r} %",
            lambda t=t, r=r: -1.0 <= stull_c(t, r) - float(humid.wet_bulb_c(t, r)) <= 0.65,
            True,
            0,
            STULL,
        )
        for t, r, _ in STULL_TABLE
    ),
    *(
        Row(
            f"humidity at {f} F, dew point {d} C",
            lambda f=f, d=d: humid.relative_humidity_pct(_c(f), d),
            v,
            1,
            NWS_PAIRS,
        )
        for f, d, v in ((16, -12.7778, 73), (19, -13.3333, 61), (45, -0.5556, 58))
    ),
    Row(
        "60 F and 40 % warmed by 20 F have about half the humidity",
        lambda: humid.relative_humidity_pct(_c(80), humid.dew_point_c(_c(60), 40)),
        20.0,
        0.5,
        HALVES,
    ),
]

REGRESSION = [
    *(
        Row(f"Ra at {lat} N by month", lambda lat=lat: et.extraterrestrial_radiation(lat, MID_MONTH), values, 0.051)
        for lat, values in RADIATION.items()
    ),
    *(Row(f"Stull at {t} C, {r} %", lambda t=t, r=r: stull_c(t, r), value, 0.01) for t, r, value in STULL_TABLE),
]

ROWS = [*EVAPOTRANSPIRATION, *HUMID, *REGRESSION]
