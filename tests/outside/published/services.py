"""Replies of the public services in their published shapes."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from django.conf import settings

from plots.forecasts import nws
from plots.forecasts.gauges import flood_state, stages
from plots.forecasts.instants import minute_of, stretch_of
from plots.forecasts.stations import by_year, dly
from plots.forecasts.values import CONVERSIONS, Unusable, value_of
from tests.outside.published import Row, Source

TEST_SET = Source("National Weather Service", "replies of the public weather.gov test set (api-proxy)", "2024")
MAINTAINERS = Source("National Weather Service", "api.weather.gov issues 21 and 69: run-length layers, totals", "2020")
USGS = Source(
    "United States Geological Survey", "instantaneous values, parameter 00065, shape of a published reply", "2019"
)
OGC = Source("United States Geological Survey", "collection of continuous values, shape of a client's fixture", "2026")
NWPS = Source("National Weather Service", "National Water Prediction Service, gauge", "2025", "a public mock of it")
CATEGORIES = Source("National Weather Service", "National Water Prediction Service, words for flood categories", "2025")
GHCN = Source("National Centers for Environmental Information", "GHCN-Daily readme", "2024")


def reply(name: str) -> Any:
    return json.loads((settings.FIXTURES / "replies" / "nws" / f"{name}.json").read_text(encoding="utf-8"))


def hours(stretch: str) -> float:
    start, end = stretch_of(stretch)
    return (end - start) / 60


def refuses(read: Callable[[], Any]) -> bool:
    try:
        read()
    except Unusable:
        return True
    return False


LEGACY = {
    "value": {
        "timeSeries": [
            {
                "variable": {
                    "variableCode": [{"value": "00065"}],
                    "unit": {"unitCode": "ft"},
                    "noDataValue": -999999.0,
                },
                "values": [
                    {
                        "value": [
                            {"value": "6.48", "qualifiers": ["A"], "dateTime": "2019-02-14T00:00:00.000-05:00"},
                            {"value": "-999999", "qualifiers": ["A"], "dateTime": "2019-02-14T00:15:00.000-05:00"},
                        ]
                    }
                ],
            }
        ]
    }
}
FEATURE = {
    "geometry": None,
    "properties": {
        "monitoring_location_id": "USGS-06904500",
        "parameter_code": "00065",
        "time": "2026-08-07T18:45:00+00:00",
        "value": "1.59",
        "unit_of_measure": "ft",
        "approval_status": "Provisional",
        "qualifier": None,
    },
}


def gauge(category: str) -> dict[str, Any]:
    return {
        "lid": "NKWA1",
        "status": {
            "observed": {
                "primary": 8.45,
                "primaryUnit": "ft",
                "floodCategory": category,
                "validTime": "2025-01-03T18:00:00Z",
            },
        },
        "flood": {
            "stageflow": {
                "action": {"stage": 12.0},
                "minor": {"stage": 14.0},
                "moderate": {"stage": 18.0},
                "major": {"stage": 22.0},
            }
        },
    }


def rain_kept() -> bool:
    """Every total of the test set stands once, over its own stretch."""
    runs = reply("gridpoints-LZK")["properties"]["quantitativePrecipitation"]["values"]
    read = nws.grid(reply("gridpoints-LZK")).rain
    wanted = sorted((*stretch_of(run["validTime"]), round(run["value"] / 25.4, 9)) for run in runs)
    return [(total.starts, total.ends, round(total.inches, 9)) for total in read] == wanted


def null_stays() -> bool:
    layer = {"uom": "wmoUnit:km_h-1", "values": [{"validTime": "2024-02-20T11:00:00+00:00/PT2H", "value": None}]}
    other = {"uom": "wmoUnit:degC", "values": [{"validTime": "2024-02-20T11:00:00+00:00/PT2H", "value": 1.0}]}
    body = {"properties": {"updateTime": "2024-02-20T10:00:00+00:00", "windGust": layer, "temperature": other}}
    return {hour.gust_mph for hour in nws.grid(body).hours} == {None}


DLY = "USW00014735202405TMAX" + "  206  W" + "-9999   " * 30

ROWS = [
    *(
        Row(
            f"{stretch} has its hours",
            lambda stretch=stretch: hours(f"2024-02-20T11:00:00+00:00/{stretch}"),
            value,
            0,
            TEST_SET,
        )
        for stretch, value in (("PT1H", 1), ("PT3H", 3), ("PT13H", 13), ("P1DT9H", 33), ("P8DT2H", 194))
    ),
    Row(
        "an hour ends an hour later",
        lambda: stretch_of("2020-06-25T12:00:00+00:00/PT1H")[1] == minute_of("2020-06-25T13:00:00+00:00"),
        True,
        0,
        MAINTAINERS,
    ),
    Row("totals stand once, over their own stretch", rain_kept, True, 0, MAINTAINERS),
    Row("null stays missing", null_stays, True, 0, TEST_SET),
    Row("1.852 km/h", lambda: value_of("wind_mph", 1.852, "km_h-1"), 1.15078, 1e-4, TEST_SET),
    Row("109.728 m", lambda: value_of("mixing_ft", 109.728, "m"), 360.0, 1e-9, TEST_SET),
    Row("a point names its cell", lambda: str(nws.cell_of(reply("points-LZK"))), "LZK/83,73", 0, TEST_SET),
    Row(
        "a cell as text or number is one cell",
        lambda: type(reply("gridpoints-LZK")["properties"]["gridX"]) is str,
        True,
        0,
        TEST_SET,
    ),
    Row("the wind in words: the greater figure", lambda: nws._SPEED.fullmatch("6 to 14 mph")[1], "14", 0, MAINTAINERS),  # type: ignore[index]
    Row("a gauge's text is feet", lambda: [stage.feet for stage in stages(LEGACY)], [6.48], 0, USGS),
    Row("the collection's too", lambda: [stage.feet for stage in stages({"features": [FEATURE]})], [1.59], 0, OGC),
    Row("no series is no reading", lambda: stages({"value": {"timeSeries": []}}), (), 0, USGS),
    Row(
        "flood stages",
        lambda: dict(flood_state(gauge("no_flooding")).levels),
        {"action": 12.0, "minor": 14.0, "moderate": 18.0, "major": 22.0},
        0,
        NWPS,
    ),
    Row("the stage now", lambda: flood_state(gauge("no_flooding")).feet, 8.45, 0, NWPS),
    *(
        Row(f"{word} says nothing", lambda word=word: flood_state(gauge(word)).feet, None, 0, CATEGORIES)
        for word in ("not_defined", "obs_not_current", "out_of_service")
    ),
    *(
        Row(f"{word} is a category", lambda word=word: flood_state(gauge(word)).category, word, 0, CATEGORIES)
        for word in ("major", "moderate", "minor", "action", "low_threshold", "no_flooding")
    ),
    Row(
        "an error body is no forecast",
        lambda: refuses(lambda: nws.grid({"title": "Forecast Grid Expired", "status": 503, "detail": "has expired."})),
        True,
        0,
        TEST_SET,
    ),
    Row(
        "206 tenths of a degree C",
        lambda: by_year(["USW00014735,20240501,TMAX,206,,,W,2400", "USW00014735,20240501,TMIN,100,,,W,2400"])[0].high_f,
        69.08,
        0.001,
        GHCN,
    ),
    Row("a flagged value is discarded", lambda: by_year(["USW00014735,20240501,TMAX,206,,X,W,2400"]), [], 0, GHCN),
    Row("fixed columns, -9999 missing", lambda: len(dly([DLY])), 1, 0, GHCN),
    Row(
        "tenths of a millimetre",
        lambda: by_year(["USW00014735,20240501,PRCP,254,,,W,2400"])[0].rain_in,
        1.0,
        1e-9,
        GHCN,
    ),
    Row(
        "every unit is one that the set uses",
        lambda: {"degC", "km_h-1", "m", "mm", "percent", "degree_(angle)"} <= CONVERSIONS.keys(),
        True,
        0,
        TEST_SET,
    ),
]
