"""Areas in other units, from the definitions of foot, acre and hectare."""

from fractions import Fraction

from plots.units import HECTARES_PER_ACRE, area


def test_acre_is_43560_square_feet_of_0_3048_m() -> None:
    exact = Fraction(43_560) * Fraction(3048, 10_000) ** 2 / 10_000
    assert exact == Fraction(40468564224, 10**11)
    assert abs(HECTARES_PER_ACRE - float(exact)) < 1e-15


def test_area_is_shown_in_the_units_that_were_chosen() -> None:
    assert area(2.5, "us") == {"value": 2.5, "unit": "ac"}
    assert area(100.0, "metric") == {"value": 40.47, "unit": "ha"}
    assert area(0.0, "metric") == {"value": 0.0, "unit": "ha"}


def test_area_that_is_not_known_stays_unknown() -> None:
    assert area(None, "us") is None
    assert area(None, "metric") is None
