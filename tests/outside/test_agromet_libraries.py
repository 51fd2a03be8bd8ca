"""Humid air, evapotranspiration and daylight beside independent libraries, over wide random ranges.

The largest difference is printed (`pytest -s`).
"""

import math
from datetime import date, timedelta

import ephem
import numpy as np
import pandas
import psychrolib
import pyet
import pytest
import refet

from plots.agromet import evapotranspiration as et
from plots.agromet import humid
from plots.daylight import daylight

RANDOM = np.random.default_rng(20_260_507)


def largest(name: str, ours: np.ndarray, theirs: np.ndarray, within: float) -> None:
    difference = float(np.nanmax(np.abs(np.asarray(ours) - np.asarray(theirs))))
    print(f"{name}: largest difference {difference:.4g}")
    assert difference <= within, name


@pytest.fixture(scope="module", autouse=True)
def metric() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)


def test_humidity_and_dew_point_agree_with_psychrolib() -> None:
    """PsychroLib follows ASHRAE Handbook Fundamentals 2017, another formula for saturation than FAO-56's."""
    temp, humidity = RANDOM.uniform(0, 45, 2_000), RANDOM.uniform(5, 100, 2_000)
    theirs = [psychrolib.GetTDewPointFromRelHum(t, h / 100) for t, h in zip(temp, humidity, strict=True)]
    liquid = np.asarray(theirs) > 0  # below, theirs is the frost point over ice
    largest("dew point, C", humid.dew_point_c(temp, humidity)[liquid], np.asarray(theirs)[liquid], 0.15)
    back = humid.relative_humidity_pct(temp, humid.dew_point_c(temp, humidity))
    largest("humidity there and back, percent", back, humidity, 1e-9)


def test_the_wet_bulb_agrees_with_psychrolib() -> None:
    """PsychroLib solves the humidity ratio of ASHRAE Handbook Fundamentals 2017, not the psychrometer equation."""
    temp, humidity = RANDOM.uniform(2, 45, 2_000), RANDOM.uniform(5, 100, 2_000)
    pressure = RANDOM.uniform(80, 103, 2_000)
    theirs = [
        psychrolib.GetTWetBulbFromRelHum(t, h / 100, 1000 * p) for t, h, p in zip(temp, humidity, pressure, strict=True)
    ]
    wet = np.asarray(theirs) > 0  # below, theirs is over ice
    largest("wet bulb, C", humid.wet_bulb_c(temp, humidity, pressure)[wet], np.asarray(theirs)[wet], 0.25)


def test_penman_monteith_agrees_with_refet() -> None:
    """RefET follows the ASCE standardised equation of 2005, whose short reference differs from FAO-56 in constants."""
    count = 2_000
    low = RANDOM.uniform(-5, 22, count)
    high = low + RANDOM.uniform(3, 20, count)
    latitude, day = RANDOM.uniform(25, 49, count), RANDOM.integers(60, 305, count)
    wind, elevation = RANDOM.uniform(0.3, 7, count), RANDOM.uniform(0, 1_500, count)
    vapour = humid.saturation_kpa(low) * RANDOM.uniform(0.4, 1.0, count)
    radiation = et.extraterrestrial_radiation(latitude, day)
    solar = radiation * RANDOM.uniform(0.3, 0.74, count)
    clear = et.clear_sky_radiation(radiation, elevation)
    ours = et.penman_monteith(
        (low + high) / 2,
        et.net_radiation(solar, et.net_longwave(low, high, vapour, solar, clear)),
        wind,
        et.mean_saturation_kpa(low, high),
        vapour,
        et.pressure_kpa(elevation),
    )
    theirs = refet.Daily(
        tmin=low, tmax=high, ea=vapour, rs=solar, uz=wind, zw=2.0, elev=elevation, lat=latitude, doy=day,
        method="asce", rso_type="simple",
    ).eto()  # fmt: skip
    largest("daily Penman-Monteith, mm", ours, np.maximum(theirs, 0), 0.12)


def test_extraterrestrial_radiation_agrees_with_pyet() -> None:
    """PyEt computes FAO-56 equation 21 on a calendar of its own."""
    days = pandas.date_range("2026-01-01", "2026-12-31")
    for latitude in np.linspace(0, 60, 13):
        theirs = pyet.extraterrestrial_r(days, math.radians(latitude)).to_numpy()
        largest(
            f"Ra at {latitude:g} N, MJ",
            et.extraterrestrial_radiation(latitude, days.dayofyear.to_numpy()),
            theirs,
            1e-6,
        )


def test_sunrise_and_sunset_agree_with_a_second_ephemeris_within_a_minute_and_a_half() -> None:
    """PyEphem by the XEphem ephemeris; upper limb, 34 arc minutes of refraction, no pressure of its own."""
    worst = 0.0
    for latitude in (26.0, 34.5, 40.0, 48.5):
        for step in range(0, 365, 9):
            here = ephem.Observer()
            here.lat, here.lon, here.pressure, here.horizon = str(latitude), "0", 0, "-0:34"
            day = date(2026, 1, 1) + timedelta(days=step)
            here.date = day.isoformat()
            rises = here.next_rising(ephem.Sun()).datetime()
            here.date = rises
            sets = here.next_setting(ephem.Sun()).datetime()
            ours = daylight(latitude, 0.0, day, "UTC")
            assert ours is not None
            for mine, theirs in zip(ours, (rises, sets), strict=True):
                minutes = (theirs - type(theirs)(1970, 1, 1)).total_seconds() / 60
                worst = max(worst, abs(mine - minutes))
    print(f"sunrise and sunset, minutes: largest difference {worst:.2f}")
    assert worst <= 1.5
