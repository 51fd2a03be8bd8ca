"""Reference evapotranspiration: edges of the year and of the figures."""

import numpy as np
import pytest

from plots.agromet import evapotranspiration as et


def test_where_the_sun_does_not_set_the_day_has_24_hours_and_where_it_does_not_rise_none() -> None:
    assert float(et.daylight_hours(75, 172)) == 24
    assert float(et.daylight_hours(75, 355)) == 0
    assert abs(float(et.extraterrestrial_radiation(75, 355))) < 1e-9


def test_more_sun_than_a_clear_sky_counts_as_a_clear_sky() -> None:
    assert et.net_longwave(10, 20, 1.2, 40, 30) == et.net_longwave(10, 20, 1.2, 30, 30)


def test_dew_is_no_evapotranspiration() -> None:
    assert float(et.penman_monteith(2, -4, 0.5, 0.70, 0.70, 101.3)) == 0
    assert float(et.hargreaves(-30, -20, -25, 5)) == 0


def test_a_high_below_its_low_has_no_answer() -> None:
    assert np.isnan(et.hargreaves(20, 10, 15, 30))


def test_days_and_places_go_through_together() -> None:
    grid = et.extraterrestrial_radiation(np.array([[30.0], [45.0]]), np.array([15, 162]))
    assert grid.shape == (2, 2)
    assert grid[0, 0] > grid[1, 0]


def test_radiation_from_temperatures_never_passes_a_clear_sky() -> None:
    assert float(et.radiation_from_temperatures(10, 19, 40, 30)) == pytest.approx(0.16 * 3 * 40)
    assert float(et.radiation_from_temperatures(0, 36, 40, 30)) == 30
    assert np.isnan(et.radiation_from_temperatures(20, 10, 40, 30))


def test_each_day_goes_by_what_is_known_of_it() -> None:
    low, high, nan = np.full(4, 10.0), np.full(4, 24.0), np.nan
    said, by_air = et.of_days(
        low, high, latitude=40, day=[150] * 4, vapour=[1.2, nan, 1.2, 1.2], wind_2_m=[2, 2, nan, 6], elevation_m=200
    )
    above = et.extraterrestrial_radiation(40, 150)
    assert by_air.tolist() == [True, False, False, True]
    assert said[1] == said[2] == et.hargreaves(10, 24, 17, above)
    assert said[3] > said[0] > 0


def test_measured_radiation_goes_before_the_temperatures() -> None:
    day = {"latitude": 40.0, "day": [150], "vapour": [1.2], "wind_2_m": [2.0], "elevation_m": 200.0}
    dull, bright, unknown = (et.of_days([10], [24], **day, solar=sun)[0][0] for sun in ([5.0], [28.0], [np.nan]))
    assert dull < unknown < bright


def test_a_day_without_sun_still_has_a_figure() -> None:
    said, _ = et.of_days([-30], [-20], latitude=80, day=[355], vapour=[0.03], wind_2_m=[3], elevation_m=0)
    assert said[0] == 0
