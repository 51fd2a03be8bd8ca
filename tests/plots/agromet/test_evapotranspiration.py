"""Reference evapotranspiration: edges of the year and of the figures."""

import numpy as np

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
