"""Replies of the National Weather Service (United States), api.weather.gov: places, hourly forecasts, forecast grids.

Layers of the grid are run-length compressed: a value holds for each hour of its stretch. Amounts (rain) are totals
over their stretch and stay so. A layer that is missing, empty or without a unit is no value.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from plots.forecasts.instants import minute_of, stretch_of
from plots.forecasts.values import Forecast, Unusable, forecast_of, value_of

LAYERS = {
    "temperature": "temp_f",
    "dewpoint": "dew_point_f",
    "relativeHumidity": "humidity_pct",
    "windSpeed": "wind_mph",
    "windGust": "gust_mph",
    "windDirection": "wind_dir_deg",
    "skyCover": "sky_pct",
    "probabilityOfPrecipitation": "rain_chance_pct",
    "mixingHeight": "mixing_ft",
    "transportWindSpeed": "transport_mph",
    "transportWindDirection": "transport_dir_deg",
    "probabilityOfThunder": "thunder_pct",
    "lightningActivityLevel": "lightning_level",
}
UNITLESS = {"lightningActivityLevel": "1", "probabilityOfThunder": "percent"}
"""Layers that come without a unit, and the one they are in."""
RAIN = "quantitativePrecipitation"
MOST_HOURS = 24 * 16
"""A grid reaches about a week; a stretch beyond this is a fault."""

COMPASS_POINTS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW"
COMPASS = {name: 22.5 * at for at, name in enumerate(COMPASS_POINTS.split(" "))}
_SPEED = re.compile(r"(?:\d{1,3} to )?(\d{1,3}) mph")
_CELL = re.compile(r"/gridpoints/([A-Z]{3})/(\d{1,4}),(\d{1,4})$")


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of an office's grid; every place in it has the same forecast."""

    office: str
    x: int
    y: int
    zone: str

    def __str__(self) -> str:
        return f"{self.office}/{self.x},{self.y}"


def cell_of(reply: Any) -> Cell:
    """The cell that a reply about a point names.

    Raises:
        Unusable: it names none.
    """
    place = _properties(reply)
    found = _CELL.search(str(place.get("forecastGridData", "")))
    if found is None:
        raise Unusable("The reply names no grid cell for this point.")
    return Cell(found[1], int(found[2]), int(found[3]), str(place.get("timeZone") or ""))


def grid(reply: Any) -> Forecast:
    """Hours and rain totals of a forecast grid.

    Raises:
        Unusable: the reply is no grid, says not when it was issued, or has no value.
    """
    layers = _properties(reply)
    columns: dict[int, dict[str, float | None]] = {}
    for layer, name in LAYERS.items():
        for start, end, raw, unit in _runs(layers, layer):
            value = value_of(name, raw, unit)
            for at in range(start, min(end, start + MOST_HOURS * 60), 60):
                columns.setdefault(at, {})[name] = value
    rain = {}
    for start, end, raw, unit in _runs(layers, RAIN):
        inches = value_of("rain_in", raw, unit)
        if inches is not None:
            rain[start, end] = inches
    return forecast_of(minute_of(layers.get("updateTime")), columns, rain)


def hourly(reply: Any) -> Forecast:
    """Hours of an hourly forecast, for what a grid lacks; wind as it is written ("6 to 14 mph": the greater).

    Raises:
        Unusable: the reply is no hourly forecast, says not when it was issued, or has no value.
    """
    whole = _properties(reply)
    periods = whole.get("periods")
    columns: dict[int, dict[str, float | None]] = {}
    for period in periods if isinstance(periods, list) else []:
        if not isinstance(period, Mapping):
            continue
        speed = _SPEED.fullmatch(str(period.get("windSpeed", "")))
        columns[minute_of(period.get("startTime"))] = {
            "temp_f": value_of("temp_f", period.get("temperature"), f"deg{period.get('temperatureUnit')}"),
            "dew_point_f": _measured(period, "dewpoint", "dew_point_f"),
            "humidity_pct": _measured(period, "relativeHumidity", "humidity_pct"),
            "rain_chance_pct": _measured(period, "probabilityOfPrecipitation", "rain_chance_pct"),
            "wind_mph": value_of("wind_mph", int(speed[1]), "mph") if speed else None,
            "wind_dir_deg": COMPASS.get(str(period.get("windDirection"))),
        }
    return forecast_of(minute_of(whole.get("updateTime")), columns, {})


def _properties(reply: Any) -> Mapping[str, Any]:
    found = reply.get("properties") if isinstance(reply, Mapping) else None
    if not isinstance(found, Mapping):
        raise Unusable("The reply is not in the shape that this service documents.")
    return found


def _runs(layers: Mapping[str, Any], layer: str) -> Iterator[tuple[int, int, Any, str]]:
    """(start, end, raw value, unit) of a layer's stretches; values of a kind that has no unit come with its own."""
    found = layers.get(layer)
    if not isinstance(found, Mapping) or not isinstance(found.get("values"), list):
        return
    unit = str(found.get("uom", UNITLESS.get(layer, ""))).rpartition(":")[2]
    for run in found["values"]:
        if isinstance(run, Mapping):
            start, end = stretch_of(run.get("validTime"))
            yield start, end, run.get("value"), unit


def _measured(period: Mapping[str, Any], key: str, name: str) -> float | None:
    found = period.get(key)
    if not isinstance(found, Mapping):
        return None
    return value_of(name, found.get("value"), str(found.get("unitCode", "")).rpartition(":")[2])
