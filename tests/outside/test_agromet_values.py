"""Published values of humid air, evapotranspiration, felt heat and cold, fuel moisture and soil water.

Each row names publisher, title and year. FAO-56 stands for Allen, Pereira, Raes and Smith, Crop evapotranspiration,
FAO Irrigation and Drainage Paper 56, 1998; its examples are cited as public test suites of evapotranspiration libraries
carry them. NWS is the National Weather Service.
"""

import numpy as np
import pytest

from plots.agromet import evapotranspiration as et
from plots.agromet import felt, fuel_moisture, humid, soil_temperature, soil_water

FAO = "FAO-56 (1998), example {}"


@pytest.mark.parametrize(
    ("got", "expected", "within", "source"),
    [
        (et.extraterrestrial_radiation(-20, 246), 32.2, 0.1, FAO.format(8)),
        (et.sun_geometry(-20, 246)[0], 0.985, 0.001, FAO.format(8)),
        (et.sun_geometry(-20, 246)[1], 0.120, 0.001, FAO.format(8)),
        (et.sun_geometry(-20, 246)[2], 1.527, 0.001, FAO.format(8)),
        (et.daylight_hours(-20, 246), 11.7, 0.05, FAO.format(9)),
        (et.pressure_kpa(1800), 81.8, 0.05, FAO.format(2)),
        (et.psychrometric_constant(et.pressure_kpa(1800)), 0.054, 0.0005, FAO.format(2)),
        (et.mean_saturation_kpa(15, 24.5), 2.39, 0.01, FAO.format(3)),
        (et.vapour_from_wet_bulb_kpa(25.6, 19.5, 87.9), 1.91, 0.01, FAO.format(4)),
        (et.vapour_from_humidity_kpa(18, 25, 54, 82), 1.70, 0.01, FAO.format(5)),
        (et.net_longwave(19.1, 25.1, 2.1, 14.5, 18.8), 3.5, 0.05, FAO.format(11)),
        (et.wind_at_2_m(3.2, 10), 2.4, 0.05, FAO.format(14)),
        (et.hargreaves(28, 38, 35, 38.93715), 6.1, 0.05, "Mehta 2006, as public test suites quote it"),
    ],
)
def test_a_piece_of_evapotranspiration_is_the_published_one(
    got: np.ndarray, expected: float, within: float, source: str
) -> None:
    assert float(got) == pytest.approx(expected, abs=within), source


def test_penman_monteith_gives_the_day_at_uccle() -> None:
    """FAO-56 example 18: 50 48 N, 100 m, 6 July; every stage is printed there."""
    low, high, solar = 12.3, 21.5, 22.07
    extraterrestrial = et.extraterrestrial_radiation(50.8, 187)
    clear = et.clear_sky_radiation(extraterrestrial, 100)
    vapour = et.vapour_from_humidity_kpa(low, high, 63, 84)
    saturation = et.mean_saturation_kpa(low, high)
    longwave = et.net_longwave(low, high, vapour, solar, clear)
    net = et.net_radiation(solar, longwave)
    wind = et.wind_at_2_m(2.78, 10)
    assert float(extraterrestrial) == pytest.approx(41.09, abs=0.01)
    assert float(clear) == pytest.approx(30.90, abs=0.01)
    assert float(wind) == pytest.approx(2.079, abs=0.001)
    assert float(vapour) == pytest.approx(1.409, abs=0.001)
    assert float(saturation - vapour) == pytest.approx(0.589, abs=0.001)
    assert float(longwave) == pytest.approx(3.71, abs=0.01)
    assert float(net) == pytest.approx(13.28, abs=0.02)
    day = et.penman_monteith((low + high) / 2, net, wind, saturation, vapour, et.pressure_kpa(100))
    assert float(day) == pytest.approx(3.88, abs=0.02)


def test_penman_monteith_gives_the_april_at_bangkok() -> None:
    """FAO-56 example 17: 13 44 N, 2 m, monthly means with heat going into the ground."""
    low, high, vapour = 25.6, 34.8, 2.85
    clear = et.clear_sky_radiation(38.06, 2)
    net = et.net_radiation(22.65, et.net_longwave(low, high, vapour, 22.65, clear))
    saturation = et.mean_saturation_kpa(low, high)
    assert float(net) == pytest.approx(14.33, abs=0.02)
    assert float(saturation) == pytest.approx(4.42, abs=0.01)
    month = et.penman_monteith(30.2, net, 2.0, saturation, vapour, et.pressure_kpa(2), 0.14)
    assert float(month) == pytest.approx(5.72, abs=0.02)


HEAT_INDEX = {
    40: "80 81 83 85 88 91 94 97 101 105 109 114 119 124 130 136",
    45: "80 82 84 87 89 None 96 100 104 109 114 119 124 130 137",  # 90 F: the chart prints 93, its formula gives 92.49
    50: "81 83 85 88 91 95 99 103 108 113 118 124 131 137",
    60: "82 84 88 91 95 100 105 110 116 123",
}


@pytest.mark.parametrize("humidity", sorted(HEAT_INDEX))
def test_the_heat_index_gives_the_printed_chart(humidity: int) -> None:
    """NWS heat index chart, rows by humidity, columns from 80 F in steps of 2."""
    for at, cell in enumerate(HEAT_INDEX[humidity].split()):
        if cell != "None":
            assert round(float(felt.heat_index_f(80 + 2 * at, humidity))) == int(cell), 80 + 2 * at


@pytest.mark.parametrize(
    ("temp", "humidity", "expected", "within", "source"),
    [
        (96, 65, 121, 0.6, "NWS example, quoted by the Occupational Safety and Health Administration"),
        (86, 45, 87, 0.6, "NWS calculator, as a public test suite cites it"),
        (111, 27, 121, 0.6, "NWS calculator, as a public test suite cites it"),
        (96, 60, 116, 0.6, "NWS calculator, as a public test suite cites it"),
        (86, 88, 104, 0.5, "NWS calculator, humid adjustment"),
        (88, 100, 121, 0.6, "NWS calculator, as a public test suite cites it"),
    ],
)
def test_the_heat_index_gives_the_published_figure(
    temp: float, humidity: float, expected: float, within: float, source: str
) -> None:
    assert float(felt.heat_index_f(temp, humidity)) == pytest.approx(expected, abs=within), source


WIND_CHILL = {
    40: "36 34 32 30 29 28 28 27 26 26 25 25",
    30: "25 21 19 17 16 15 14 13 12 12 11 10",
    0: "-11 -16 -19 -22 -24 -26 -27 -29 -30 -31 -32 -33",
    -10: "-22 -28 -32 -35 -37 -39 -41 -43 -44 -45 -46 -48",
    -20: "-34 -41 -45 -48 -51 -53 -55 -57 -58 -60 -61 -62",
}


@pytest.mark.parametrize("temp", sorted(WIND_CHILL))
def test_the_wind_chill_gives_the_printed_chart(temp: int) -> None:
    """NWS wind chill chart, columns from 5 mph in steps of 5."""
    row = [int(cell) for cell in WIND_CHILL[temp].split()]
    assert [round(float(value)) for value in felt.wind_chill_f(temp, np.arange(5, 61, 5))] == row


def test_wind_chill_is_undefined_above_50_f_and_in_still_air() -> None:
    """NWS: for 50 F or colder and wind above 3 mph."""
    assert np.isnan(felt.wind_chill_f([51, 20], [10, 3])).all()


@pytest.mark.parametrize(
    ("index", "band"),
    [(90.9, "lower"), (91, "moderate"), (103, "high"), (115, "high"), (115.1, "very high to extreme")],
)
def test_heat_bands_are_those_of_the_published_table(index: float, band: str) -> None:
    """Occupational Safety and Health Administration, heat index bands; at 103 the higher of two."""
    assert felt.heat_band(index) == band


@pytest.mark.parametrize(
    ("temp_f", "dew_c", "expected"), [(16, -12.777778, 73), (19, -13.333333, 61), (45, -0.555556, 58)]
)
def test_relative_humidity_is_what_the_forecast_prints(temp_f: float, dew_c: float, expected: int) -> None:
    """Pairs of dew point and humidity in hourly replies of the NWS test set."""
    assert float(humid.relative_humidity_pct((temp_f - 32) / 1.8, dew_c)) == pytest.approx(expected, abs=1)


@pytest.mark.parametrize(
    ("temp", "humidity", "pressure", "expected", "source"),
    [
        (5, 50, 101.325, 1.345, "online psychrometric calculator"),
        (10, 70, 101.325, 7.393, "online psychrometric calculator"),
        (20, 90, 101.325, 18.863, "online psychrometric calculator"),
        (25, 53.8, 100.0, 18.59, "NWS calculator: 25 C, dew point 15 C, 1000 hPa"),
        (25.6, 1.91 / 3.2827 * 100, 87.9, 19.5, "FAO-56 (1998), example 4, read backwards"),
    ],
)
def test_the_wet_bulb_is_the_published_one(
    temp: float, humidity: float, pressure: float, expected: float, source: str
) -> None:
    assert float(humid.wet_bulb_c(temp, humidity, pressure)) == pytest.approx(expected, abs=0.2), source


@pytest.mark.parametrize(
    ("temp", "humidity", "options", "expected", "source"),
    [
        (70, 40, {"month": 7, "hour": 13}, 6 + 0, "PMS 437 tables A and B, exposed south, level"),
        (55, 62, {"month": 7, "hour": 13}, 8 + 0, "PMS 437 tables A and B, exposed south, level"),
        (70, 40, {"month": 4, "hour": 13, "slope_pct": 10}, 7, "PMS 437 tables A and C"),
        (70, 40, {"month": 4, "hour": 13, "slope_pct": 10, "shaded": True}, 10, "PMS 437 tables A and C, shaded"),
    ],
)
def test_fuel_moisture_is_that_of_the_tables(
    temp: float, humidity: float, options: dict, expected: int, source: str
) -> None:
    found = fuel_moisture.fuel_moisture_pct(temp, humidity, **{"shaded": False, **options})
    assert found == expected, source


@pytest.mark.parametrize(
    ("texture", "expected"),
    [
        ("sand", 1.018),
        ("loamy sand", 1.238),
        ("sandy loam", 1.416),
        ("sandy clay loam", 1.855),
        ("loam", 2.023),
        ("silt loam", 2.313),
        ("clay loam", 2.255),
        ("silty clay loam", 2.528),
        ("silty clay", 2.488),
        ("clay", 2.712),
    ],
)
def test_available_water_is_the_printed_figure(texture: str, expected: float) -> None:
    """New Mexico State University irrigation table: inches a foot, printed beside the weights and density."""
    assert soil_water.available_in_per_ft(texture) == pytest.approx(expected, abs=0.005)


POTTER = "Potter and Williams (Agronomy Journal 86, 1994), as a public suite of crop-model components tests its own"


@pytest.mark.parametrize(("depth_mm", "expected"), [(50, 25.7), (150, 23.2), (250, 21.7), (350, 20.9)])
def test_soil_temperature_gives_the_published_profile(depth_mm: float, expected: float) -> None:
    """Four layers of 10 cm, density 1.6, no available water, air 20 to 30 C, yearly mean 20 C: the first day."""
    damping = soil_temperature.damping_depth_mm(1.6, 0.0, 400.0)
    day = soil_temperature.AirDay(30.0, 20.0, 25.0, wet=False)
    ((surface, there),) = soil_temperature.soil_temperatures(
        [day], yearly_mean_c=20.0, depth_mm=depth_mm, damping_mm=damping
    )
    assert (round(surface, 1), round(there, 1)) == (27.3, expected), POTTER
