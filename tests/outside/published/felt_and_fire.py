"""Heat and cold as people feel them, fine dead fuel, probability of ignition."""

from __future__ import annotations

import numpy as np

from plots.agromet import felt, fuel_moisture
from tests.outside.published import Row, Source, rounded

CHART = Source("National Weather Service", "heat index chart", "undated")
CALCULATOR = Source("National Weather Service", "heat index calculator", "undated", "the test suite of MetPy")
EXAMPLE = Source(
    "Occupational Safety and Health Administration", "heat index: example of the National Weather Service", "undated"
)
ALGORITHM = Source("National Weather Service, Weather Prediction Center", "the heat index equation", "undated")
CHILL = Source("National Weather Service", "wind chill chart", "2001")
METPY = Source(
    "Environment Canada and National Weather Service", "wind chill, metric form", "2001", "the test suite of MetPy"
)
OSHA = Source("Occupational Safety and Health Administration", "heat index bands and what adds to them", "undated")
PMS = "Fire Behavior Field Reference Guide PMS 437, fine dead fuel moisture, table {}"


def nwcg(table: str) -> Source:
    return Source(
        "National Wildfire Coordinating Group", PMS.format(table), "undated", "a public machine-readable copy"
    )


HEAT_INDEX = {
    40: "80 81 83 85 88 91 94 97 101 105 109 114 119 124 130 136",
    45: "80 82 84 87 89 -- 96 100 104 109 114 119 124 130 137",  # 90 F: the chart prints 93, its formula gives 92.49
    50: "81 83 85 88 91 95 99 103 108 113 118 124 131 137",
    60: "82 84 88 91 95 100 105 110 116 123",
}
WIND_CHILL = {
    40: "36 34 32 30 29 28 28 27 26 26 25 25",
    30: "25 21 19 17 16 15 14 13 12 12 11 10",
    0: "-11 -16 -19 -22 -24 -26 -27 -29 -30 -31 -32 -33",
    -10: "-22 -28 -32 -35 -37 -39 -41 -43 -44 -45 -46 -48",
    -20: "-34 -41 -45 -48 -51 -53 -55 -57 -58 -60 -61 -62",
}


def chart_row(humidity: int) -> list[str]:
    """The cells as the formula gives them; a dash where the chart prints another figure than its own formula."""
    printed = HEAT_INDEX[humidity].split()
    values = rounded(felt.heat_index_f(80 + 2 * np.arange(len(printed)), humidity))
    return [cell if cell == "--" else str(value) for cell, value in zip(printed, values, strict=True)]


FELT = [
    *(
        Row(f"heat index from 80 F on at {r} %", lambda r=r: chart_row(r), HEAT_INDEX[r].split(), 0, CHART)
        for r in HEAT_INDEX
    ),
    *(
        Row(f"heat index at {t} F, {r} %", lambda t=t, r=r: felt.heat_index_f(t, r), value, within, source)
        for t, r, value, within, source in (
            (96, 65, 121, 0.6, EXAMPLE),
            (86, 45, 87, 0.6, CALCULATOR),
            (111, 27, 121, 0.6, CALCULATOR),
            (96, 60, 116, 0.6, CALCULATOR),
            (86, 88, 104, 0.5, CALCULATOR),
            (88, 100, 121, 0.6, CALCULATOR),
        )
    ),
    Row("the averaged simple value keeps below 80", lambda: felt.heat_index_f(75, 50) < 80, True, 0, ALGORITHM),
    *(
        Row(
            f"wind chill at {t} F by 5 mph",
            lambda t=t: rounded(felt.wind_chill_f(t, np.arange(5, 61, 5))),
            [int(cell) for cell in row.split()],
            0,
            CHILL,
        )
        for t, row in WIND_CHILL.items()
    ),
    Row("wind chill at -15 F, 20 mph", lambda: felt.wind_chill_f(-15, 20), -42, 0.5, CHILL),
    Row(
        "undefined above 50 F and to 3 mph",
        lambda: np.isnan(felt.wind_chill_f([51, 20], [10, 3])).tolist(),
        [True, True],
        0,
        CHILL,
    ),
    Row("wind chill at 10 F, 4 mph, of the other published form", lambda: felt.wind_chill_f(10, 4), 2.623, 0.1, METPY),
    *(
        Row(f"heat band at {index} F", lambda index=index: felt.heat_band(index), band, 0, OSHA)
        for index, band in (
            (90.9, "lower"),
            (91, "moderate"),
            (103, "high"),
            (115, "high"),
            (115.1, "very high to extreme"),
        )
    ),
    Row("strenuous work is the next band", lambda: felt.heat_band(95, strenuous=True), "high", 0, OSHA),
    Row("full sun adds up to 15 F", lambda: felt.heat_band(90, full_sun=True), "high", 0, OSHA),
]


def moisture(temp: float, humidity: float, **place: object) -> int:
    return fuel_moisture.fuel_moisture_pct(temp, humidity, **{"month": 7, "hour": 13, "shaded": False, **place})  # type: ignore[arg-type]


def refused(**place: object) -> str:
    try:
        return str(moisture(70, 40, **place))
    except fuel_moisture.NotCovered as error:
        return str(error)


FIRE = [
    Row("70 F, 40 % on a southern slope at noon of July", lambda: moisture(70, 40), 6, 0, nwcg("A")),
    Row("55 F, 62 %", lambda: moisture(55, 62), 8, 0, nwcg("A")),
    Row("70 F, 40 %, April, slope 10 %", lambda: moisture(70, 40, month=4, slope_pct=10), 7, 0, nwcg("C")),
    Row("the same, shaded", lambda: moisture(70, 40, month=4, slope_pct=10, shaded=True), 10, 0, nwcg("C")),
    Row("night has no figure", lambda: "at night there is no figure" in refused(hour=21), True, 0, nwcg("B")),
    Row(
        "steep western slopes in winter have none",
        lambda: "no figures for western slopes" in refused(month=12, slope_pct=40, aspect_deg=270),
        True,
        0,
        nwcg("D"),
    ),
]

REGRESSION = [
    Row("heat index at 95 F, 10 %, dry adjustment", lambda: felt.heat_index_f(95, 10), 89.45, 0.01),
    Row("heat index at 84 F, 90 %, wet adjustment", lambda: felt.heat_index_f(84, 90), 98.34, 0.01),
    Row("heat index at 74.84 F, 68.5 %", lambda: felt.heat_index_f(74.84, 68.5), 75.04, 0.01),
    Row(
        "heat index at 50 % on both sides of the line", lambda: felt.heat_index_f([79.9, 80.0], 50), (79.9, 80.8), 0.15
    ),
    Row(
        "ignition unshaded, 2 to 12 %",
        lambda: rounded(100 * fuel_moisture.ignition_probability(70, np.arange(2, 13))),
        [96, 84, 73, 63, 55, 48, 41, 36, 31, 26, 23],
    ),
    Row(
        "ignition shaded, 2 to 12 %",
        lambda: rounded(100 * fuel_moisture.ignition_probability(70, np.arange(2, 13), 1.0)),
        [90, 78, 68, 59, 51, 44, 38, 32, 28, 24, 20],
    ),
]

ROWS = [*FELT, *FIRE, *REGRESSION]
