"""Sun and twilight, soil water and soil temperature, degree days, frost."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from plots.agromet import inversion, soil_temperature, soil_water
from plots.daylight import ASTRONOMICAL, NAUTICAL, daylight, twilight
from plots.degree_days import degree_days
from plots.forecasts.stations import freeze_days
from tests.outside.published import Row, Source

LONDON = Source("timeanddate", "sun times of London", "2015", "the test suite of astral")
PACKAGE = Source("a package of sun times", "its worked example: 38 N 79 W, 20 April 2014", "2014")
NDSU = Source("North Dakota State University Extension", "Crop and Pest Report, 20 May", "2021")
GRDC = Source("Grains Research and Development Corporation", "spray manual, chapter 10.8", "2025")


def minutes(day: str, *times: str, zone: str = "UTC") -> tuple[float, ...]:
    """Minutes since 1970 of times on a day."""
    there = ZoneInfo(zone)
    return tuple(datetime.fromisoformat(f"{day}T{at}").replace(tzinfo=there).timestamp() / 60 for at in times)


def london(day: str, below: float | None = None) -> tuple[int, int] | None:
    where = (51.5, -0.1333, date.fromisoformat(day), "UTC")
    return daylight(*where) if below is None else twilight(*where, below)


def evening() -> bool:
    """45 N 120 W on the longest day: asked without a zone, a library gives the sunset of the evening before."""
    found = daylight(45.0, -120.0, date(2024, 6, 21), "America/Los_Angeles")
    assert found is not None
    rises, sets = (datetime.fromtimestamp(at * 60, UTC).astimezone(ZoneInfo("America/Los_Angeles")) for at in found)
    return rises < sets and {rises.date(), sets.date()} == {date(2024, 6, 21)} and f"{sets:%H:%M}" in ("20:49", "20:50")


SUN = [
    Row(
        "1 December, sunrise and sunset",
        lambda: london("2015-12-01"),
        minutes("2015-12-01", "07:43", "15:55"),
        1,
        LONDON,
    ),
    Row(
        "1 December, civil twilight",
        lambda: london("2015-12-01", 6.0),
        minutes("2015-12-01", "07:04", "16:34"),
        1,
        LONDON,
    ),
    Row(
        "1 December, nautical dawn",
        lambda: (london("2015-12-01", NAUTICAL) or (0, 0))[0],
        minutes("2015-12-01", "06:22")[0],
        1,
        LONDON,
    ),
    Row(
        "1 December, astronomical dawn",
        lambda: (london("2015-12-01", ASTRONOMICAL) or (0, 0))[0],
        minutes("2015-12-01", "05:41")[0],
        1,
        LONDON,
    ),
    Row("1 January", lambda: london("2015-01-01"), minutes("2015-01-01", "08:06", "16:01"), 1, LONDON),
    Row("25 December", lambda: london("2015-12-25"), minutes("2015-12-25", "08:05", "15:55"), 1, LONDON),
    Row(
        "sunset",
        lambda: (daylight(38.0, -79.0, date(2014, 4, 20), "America/New_York") or (0, 0))[1],
        minutes("2014-04-20", "19:56:38", zone="America/New_York")[0],
        1,
        PACKAGE,
    ),
    Row(
        "layered from 4 h before sunset to 2 h after sunrise, the longest published",
        lambda: (inversion.BEFORE_SUNSET_MIN, inversion.AFTER_SUNRISE_MIN),
        (240, 120),
        0,
        NDSU,
    ),
    Row(
        "and so within 1 to 2 h before sundown to about 1 h after sunrise",
        lambda: (inversion.BEFORE_SUNSET_MIN >= 120, inversion.AFTER_SUNRISE_MIN >= 60),
        (True, True),
        0,
        GRDC,
    ),
]

NM = Source(
    "New Mexico State University", "irrigation table: field capacity, wilting point, density, inches a foot", "undated"
)
CALIFORNIA = Source("University of California", "drought pages: available water by texture, inches a foot", "undated")
NEBRASKA = Source("University of Nebraska", "available water of coarse sand and silt loam", "undated")
NETHERLANDS = Source(
    "Netherlands Journal of Agricultural Science", "36: upper tillage limit of Uruguayan soils", "1988"
)
POTTER = Source(
    "Agronomy Journal 86",
    "Potter and Williams: soil temperature in EPIC",
    "1994",
    "a public suite of crop-model components",
)
PRINTED = {
    "sand": 1.018,
    "loamy sand": 1.238,
    "sandy loam": 1.416,
    "sandy clay loam": 1.855,
    "loam": 2.023,
    "silt loam": 2.313,
    "clay loam": 2.255,
    "silty clay loam": 2.528,
    "silty clay": 2.488,
    "clay": 2.712,
}
BANDS = {
    "sand": (0.75, 1.25),
    "loamy sand": (0.75, 1.25),
    "sandy loam": (1.25, 1.75),
    "sandy clay loam": (1.75, 2.50),
    "loam": (1.50, 2.30),
    "silt loam": (1.50, 2.30),
    "clay loam": (1.75, 2.50),
    "silty clay": (1.60, 2.50),
}
"""Of silty clay loam and clay the two publishers differ by 0.03 and 0.21 in a foot: left out."""


def band_of(texture: str) -> bool:
    least, most = BANDS[texture]
    return least - 0.02 <= soil_water.available_in_per_ft(texture) <= most + 0.02


def at_depth(depth_mm: float) -> float:
    """Four layers of 10 cm, density 1.6, no available water, air 20 to 30 C, yearly mean 20 C: the first day."""
    damping = soil_temperature.damping_depth_mm(1.6, 0.0, 400.0)
    day = soil_temperature.AirDay(30.0, 20.0, 25.0, wet=False)
    ((_, there),) = soil_temperature.soil_temperatures([day], yearly_mean_c=20.0, depth_mm=depth_mm, damping_mm=damping)
    return there


SOIL = [
    *(
        Row(f"available water of {name}", lambda name=name: soil_water.available_in_per_ft(name), value, 0.005, NM)
        for name, value in PRINTED.items()
    ),
    *(Row(f"{name} lies in the band", lambda name=name: band_of(name), True, 0, CALIFORNIA) for name in BANDS),
    Row("silt loam holds about 2 in", lambda: soil_water.available_in_per_ft("silt loam"), 2.0, 0.35, NEBRASKA),
    Row("upper tillage limit", lambda: soil_water.upper_tillage_limit_pct(0, 0), 7.5, 1e-9, NETHERLANDS),
    *(
        Row(f"soil at {depth} mm", lambda depth=depth: round(at_depth(depth), 1), value, 0, POTTER)
        for depth, value in ((50, 25.7), (150, 23.2), (250, 21.7), (350, 20.9))
    ),
]

WAUSHARA = Source("Waushara Argus", "extension column on growing degree days", "2018")
IOWA = Source("Iowa State University Extension", "growing degree days: at most 36 a day", "undated")
AGF = Source("Ohio State University Extension", "AGF-101, Eckert and Thomison", "2017")
ALBANY = Source(
    "National Centers for Environmental Information",
    "Climate Normals 1991-2020, USW00014735 (Albany)",
    "2021",
    "public test fixtures",
)
FREEZES = {
    (32, "spring", 10): "05/11",
    (32, "spring", 50): "04/27",
    (32, "spring", 90): "04/16",
    (32, "autumn", 10): "10/03",
    (32, "autumn", 50): "10/15",
    (32, "autumn", 90): "11/01",
    (28, "spring", 50): "04/16",
    (28, "autumn", 50): "10/28",
}
COLUMN = {"spring": "LST", "autumn": "FST"}


def albany(threshold: int, season: str, level: int) -> str:
    columns = {f"ANN-TMIN-PRB{COLUMN[s]}-T{t}FP{p}": day for (t, s, p), day in FREEZES.items()}
    lines = [",".join(["STATION", *columns]), ",".join(["USW00014735", *columns.values()])]
    return str(getattr(freeze_days(lines)[threshold], season)[level])


DAYS = [
    *(
        Row(f"degree days of {high}/{low}", lambda high=high, low=low: degree_days(high, low), value, 0, source)
        for high, low, value, source in (
            (90, 65, 2550, WAUSHARA),
            (72, 46, 1100, WAUSHARA),
            (63, 42, 650, WAUSHARA),
            (80, 60, 2000, AGF),
            (60, 40, 500, AGF),
            (90, 70, 2800, AGF),
            (120, 110, 3600, IOWA),
            (70, 50, 1000, IOWA),
        )
    ),
    Row(
        "three days in all", lambda: sum(degree_days(*day) for day in ((90, 65), (72, 46), (63, 42))), 4300, 0, WAUSHARA
    ),
    *(
        Row(f"freeze of {t} F, {s}, {p} %", lambda t=t, s=s, p=p: albany(t, s, p), day.replace("/", "-"), 0, ALBANY)
        for (t, s, p), day in FREEZES.items()
    ),
]

REGRESSION = [
    Row(
        "upper tillage limit of 3 % humus and 25 % clay",
        lambda: soil_water.upper_tillage_limit_pct(3, 25),
        21.73,
        0.005,
    ),
    Row("the longest day at 45 N 120 W lies on one date", evening, True),
    Row("midsummer at Tromso has no sunset", lambda: daylight(69.65, 18.96, date(2024, 6, 21), "Europe/Oslo"), None),
    *(
        Row(
            f"38.8 N 97.6 W on {day}",
            lambda day=day: daylight(38.8, -97.6, date.fromisoformat(day), "America/Chicago"),
            minutes(day, *times, zone="America/Chicago"),
            1,
        )
        for day, times in (("2024-03-10", ("07:48", "19:32")), ("2024-11-03", ("07:00", "17:26")))
    ),
]

ROWS = [*SUN, *SOIL, *DAYS, *REGRESSION]
