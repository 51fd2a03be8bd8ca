"""Soil temperature at depth: laws that need no published figure."""

import pytest

from plots.agromet.soil_temperature import AirDay, damping_depth_mm, soil_temperatures

WARM, COOL = AirDay(25.0, 15.0, 20.0, wet=False), AirDay(15.0, 5.0, 10.0, wet=False)


def at_depth(days: list[AirDay], depth_mm: float) -> list[float]:
    damping = damping_depth_mm(1.4, 30.0, 300.0)
    return [there for _, there in soil_temperatures(days, yearly_mean_c=10.0, depth_mm=depth_mm, damping_mm=damping)]


def test_no_days_give_nothing() -> None:
    assert soil_temperatures([], yearly_mean_c=10.0, depth_mm=50.0, damping_mm=500.0) == []


def test_deep_soil_lies_nearer_the_yearly_mean() -> None:
    shallow, middle, deep = (at_depth([WARM] * 60, depth)[-1] for depth in (25.0, 150.0, 900.0))
    assert shallow > middle > deep > 10.0


def test_a_turn_of_the_weather_comes_late_and_whole() -> None:
    found = at_depth([COOL] * 40 + [WARM] * 40, 50.0)
    rise = found[-1] - found[39]
    assert 0 < found[40] - found[39] < rise / 2
    assert found[79] == pytest.approx(found[78], abs=1e-6)


def test_after_a_month_the_start_is_forgotten() -> None:
    assert at_depth([WARM] * 40 + [COOL] * 40, 50.0)[-1] == pytest.approx(at_depth([COOL] * 80, 50.0)[-1], abs=1e-6)


def test_rain_cools_the_surface() -> None:
    wet = AirDay(25.0, 15.0, 20.0, wet=True)
    assert at_depth([WARM] * 40 + [wet], 50.0)[-1] < at_depth([WARM] * 41, 50.0)[-1]


def test_wet_soil_carries_warmth_deeper() -> None:
    assert damping_depth_mm(1.4, 60.0, 300.0) > damping_depth_mm(1.4, 5.0, 300.0)
