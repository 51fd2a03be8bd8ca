"""River gauges: stages of the U.S. Geological Survey (both services), flood categories and forecasts of the Weather
Service.

Stages are feet above the gauge's own zero, which is arbitrary: only a level that somebody set for that gauge means
anything. A reading that is missing or old, and a category that is not current, are never a "go".
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from plots.forecasts.instants import minute_of
from plots.forecasts.values import Unusable

STAGE = "00065"
NO_DATA = -999_999.0
STAGE_RANGE_FT = (-50.0, 500.0)


@dataclass(frozen=True, slots=True)
class Stage:
    """Gauge height in feet at an instant (minutes since 1970-01-01 UTC)."""

    at: int
    feet: float


def stages(reply: Any) -> tuple[Stage, ...]:
    """Readings in the order of time, each instant once, from either of the Survey's services.

    Raises:
        Unusable: the reply has the shape of neither.
    """
    if not isinstance(reply, Mapping):
        raise Unusable("The reply is not in the shape that this service documents.")
    found = {}
    try:
        for raw, when in _features(reply) if "features" in reply else _legacy(reply):
            feet = _feet(raw)
            if feet is not None:
                at = minute_of(when)
                found[at] = Stage(at, feet)
    except (AttributeError, TypeError) as error:  # a list where an object should be, or the other way round
        raise Unusable("The reply is not in the shape that this service documents.") from error
    return tuple(found[at] for at in sorted(found))


def _features(reply: Mapping[str, Any]) -> Iterator[tuple[Any, Any]]:
    """The collection service: one feature a reading; other parameters and units may be among them."""
    features = reply["features"]
    for feature in features if isinstance(features, list) else ():
        one = feature.get("properties") if isinstance(feature, Mapping) else None
        if isinstance(one, Mapping) and one.get("parameter_code") == STAGE and one.get("unit_of_measure") == "ft":
            yield one.get("value"), one.get("time")


def _legacy(reply: Mapping[str, Any]) -> Iterator[tuple[Any, Any]]:
    """The older service, in the shape of its instantaneous values."""
    value = reply.get("value")
    series = value.get("timeSeries") if isinstance(value, Mapping) else None
    if not isinstance(series, list):
        raise Unusable("The reply is not in the shape that this service documents.")
    for one in series:
        variable = one.get("variable", {}) if isinstance(one, Mapping) else {}
        codes = {str(code.get("value")) for code in variable.get("variableCode", []) if isinstance(code, Mapping)}
        if STAGE not in codes or variable.get("unit", {}).get("unitCode") != "ft":
            continue
        for block in one.get("values", []):
            for reading in block.get("value", []):
                yield reading.get("value"), reading.get("dateTime")


def _feet(raw: Any) -> float | None:
    try:
        feet = float(raw)
    except (TypeError, ValueError):
        return None
    least, most = STAGE_RANGE_FT
    return feet if math.isfinite(feet) and feet != NO_DATA and least <= feet <= most else None


KNOWN = ("no_flooding", "low_threshold", "action", "minor", "moderate", "major")
"""Categories that say something. `not_defined`, `obs_not_current` and `out_of_service` say that nothing is known."""


@dataclass(frozen=True, slots=True)
class FloodState:
    """What the Weather Service says of a gauge: stage now and to come, and the stages of its categories; feet."""

    at: int | None
    feet: float | None
    category: str | None
    said: str
    """The category in the service's own word, known or not; "" where it gives none."""
    crest: Stage | None
    levels: Mapping[str, float]
    lid: str
    name: str


def flood_state(reply: Any) -> FloodState:
    """A gauge of the water prediction service; a category that is not known or not current is None.

    Raises:
        Unusable: the reply is no gauge.
    """
    if not isinstance(reply, Mapping) or not isinstance(reply.get("status"), Mapping):
        raise Unusable("The reply is not in the shape that this service documents.")
    observed, forecast = (_part(reply["status"], key) for key in ("observed", "forecast"))
    flood = _part(reply, "flood")
    levels = {}
    for name, level in (_part(flood, "stageflow") or _part(flood, "categories")).items():
        feet = _feet(level.get("stage")) if isinstance(level, Mapping) else None
        if name in KNOWN and feet is not None:
            levels[name] = feet
    category = observed.get("floodCategory")
    in_feet = observed.get("primaryUnit") == "ft"
    current = category in KNOWN
    return FloodState(
        at=minute_of(observed.get("validTime")) if current else None,
        feet=_feet(observed.get("primary")) if current and in_feet else None,
        category=category if current else None,
        said=str(category or ""),
        crest=_crest(forecast),
        levels=levels,
        lid=str(reply.get("lid") or ""),
        name=str(reply.get("name") or ""),
    )


def stage_forecast(reply: Any) -> tuple[int, tuple[Stage, ...]]:
    """(when it was issued, stages to come in the order of time) of a gauge's forecast.

    Raises:
        Unusable: the reply is no forecast of a stage in feet, says not when it was issued, or has no stage.
    """
    if not isinstance(reply, Mapping) or reply.get("primaryName") != "Stage" or reply.get("primaryUnits") != "ft":
        raise Unusable("The reply is no forecast of a stage in feet.")
    rows = reply.get("data")
    found = {}
    for row in rows if isinstance(rows, list) else ():
        feet = _feet(row.get("primary")) if isinstance(row, Mapping) else None
        if feet is not None:
            at = minute_of(row.get("validTime"))
            found[at] = Stage(at, feet)
    if not found:
        raise Unusable("The forecast has no stage in it.")
    return minute_of(reply.get("issuedTime")), tuple(found[at] for at in sorted(found))


def _crest(forecast: Mapping[str, Any]) -> Stage | None:
    """The highest stage to come, where the forecast is current and in feet."""
    feet = _feet(forecast.get("primary"))
    if feet is None or forecast.get("floodCategory") not in KNOWN or forecast.get("primaryUnit") != "ft":
        return None
    return Stage(minute_of(forecast.get("validTime")), feet) if forecast.get("validTime") else None


def _part(whole: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    found = whole.get(key)
    return found if isinstance(found, Mapping) else {}
