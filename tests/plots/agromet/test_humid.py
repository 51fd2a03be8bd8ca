"""Humid air: laws that hold whatever the figures."""

import numpy as np

from plots.agromet import humid


def test_saturated_air_has_no_depression() -> None:
    temp = np.linspace(-10, 45, 56)
    assert np.allclose(humid.wet_bulb_c(temp, 100), temp, atol=1e-9)
    assert np.allclose(humid.wet_bulb_depression_c(temp, 100), 0, atol=1e-9)


def test_the_wet_bulb_solves_the_psychrometer_equation_everywhere() -> None:
    temp, humidity = (grid.ravel() for grid in np.meshgrid(np.linspace(-30, 50, 81), np.linspace(0, 100, 101)))
    wet = humid.wet_bulb_c(temp, humidity)
    vapour = humid.saturation_kpa(wet) - humid.PSYCHROMETER * humid.SEA_LEVEL_KPA * (temp - wet)
    assert np.allclose(vapour, humid.saturation_kpa(temp) * humidity / 100, atol=1e-9)


def test_drier_air_has_a_lower_wet_bulb_and_dew_point() -> None:
    humidity = np.linspace(1, 100, 100)
    assert (np.diff(humid.wet_bulb_c(22, humidity)) > 0).all()
    assert (np.diff(humid.dew_point_c(22, humidity)) > 0).all()


def test_a_dew_point_above_the_temperature_is_saturated_air() -> None:
    assert humid.relative_humidity_pct(10, 12) == 100


def test_what_is_missing_or_impossible_has_no_answer() -> None:
    assert np.isnan(humid.wet_bulb_c([np.nan, 20, 20, 20], [50, np.nan, -1, 101])).all()
    assert np.isnan(humid.dew_point_c([np.nan, 20, 20, 20], [50, np.nan, 0, 101])).all()
    assert np.isnan(humid.relative_humidity_pct([np.nan, 20], [5, np.nan])).all()
