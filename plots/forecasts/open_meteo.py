"""Replies of Open-Meteo, a general forecast service for places that no national service here covers.

Asked with `timezone=GMT&timeformat=unixtime`, because its local times carry no offset and a clock-change day has an
hour twice. Rain is the sum of the hour before its time stamp.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plots.forecasts.values import Forecast, Unusable, forecast_of, value_of

HOURLY = {
    "temperature_2m": "temp_f",
    "dew_point_2m": "dew_point_f",
    "relative_humidity_2m": "humidity_pct",
    "wind_speed_10m": "wind_mph",
    "wind_gusts_10m": "gust_mph",
    "wind_direction_10m": "wind_dir_deg",
    "cloud_cover": "sky_pct",
    "precipitation_probability": "rain_chance_pct",
}
RAIN = "precipitation"
UNITS = {"°C": "degC", "°F": "degF", "km/h": "km_h-1", "m/s": "m_s-1", "mp/h": "mph", "mph": "mph", "%": "percent",
         "°": "degree_(angle)", "mm": "mm", "inch": "in"}  # fmt: skip


def hours(reply: Any, *, issued: int) -> Forecast:
    """Hours and rain of a reply; the service says no time of issue, so `issued` is when the reply was fetched.

    Raises:
        Unusable: the service refused, its times are no seconds since 1970, or there is no value.
    """
    if not isinstance(reply, Mapping) or reply.get("error"):
        raise Unusable("The service refused the question.")
    table, units = reply.get("hourly"), reply.get("hourly_units")
    if not isinstance(table, Mapping) or not isinstance(units, Mapping) or units.get("time") != "unixtime":
        raise Unusable("The reply is not in the shape that this service documents.")
    times = table.get("time")
    if not isinstance(times, list) or not all(isinstance(t, int) and not isinstance(t, bool) for t in times):
        raise Unusable("A time in the reply cannot be read.")
    columns: dict[int, dict[str, float | None]] = {t // 60: {} for t in times}
    for key, name in HOURLY.items():
        for t, raw in zip(times, _column(table, key, len(times)), strict=True):
            columns[t // 60][name] = value_of(name, raw, UNITS.get(str(units.get(key)), ""))
    rain = {}
    for t, raw in zip(times, _column(table, RAIN, len(times)), strict=True):
        inches = value_of("rain_in", raw, UNITS.get(str(units.get(RAIN)), ""))
        if inches is not None:
            rain[t // 60 - 60, t // 60] = inches
    return forecast_of(issued, columns, rain)


def _column(table: Mapping[str, Any], key: str, length: int) -> list[Any]:
    """A column as long as the times are; one of another length belongs to other hours and is missing."""
    found = table.get(key)
    return found if isinstance(found, list) and len(found) == length else [None] * length
