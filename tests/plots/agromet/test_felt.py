"""Heat and cold as people feel them."""

import numpy as np

from plots.agromet.felt import HeatBand, heat_band, heat_index_f, wind_chill_f


def test_the_branch_is_chosen_by_the_averaged_simple_value() -> None:
    """The published procedure jumps there; 79.9 F at 50 percent keeps the simple value."""
    assert abs(float(heat_index_f(79.9, 50)) - 79.9) < 0.5
    assert round(float(heat_index_f(80.0, 50)), 1) == 80.8


def test_strenuous_work_moves_one_band_up_and_the_highest_stays() -> None:
    assert heat_band(85, strenuous=True) is HeatBand.MODERATE
    assert heat_band(120, strenuous=True) is HeatBand.VERY_HIGH


def test_full_sun_adds_up_to_fifteen_degrees() -> None:
    assert heat_band(90, full_sun=True) is HeatBand.HIGH


def test_what_is_missing_has_no_answer() -> None:
    assert heat_band(float("nan")) is None
    assert np.isnan(heat_index_f([np.nan, 90], [50, np.nan])).all()
    assert np.isnan(wind_chill_f([np.nan, 20], [10, np.nan])).all()
