"""Bring forecasts in: a property's cell is found once, and each cell is asked once however many properties read it.

The National Weather Service goes first. Where it refuses a place for good (none of its land), the general service is
asked, whose free use is non-commercial. Its answers carry no time of issue: the time when they were fetched stands for
it, so an answer kept from before is as old as its fetching, never as new as today.
"""

from __future__ import annotations

import logging
from datetime import datetime, timedelta
from urllib.parse import urlencode

from django.conf import settings
from django.db import transaction
from django.db.models import Max, QuerySet

from core.models import HoldingState
from core.services.facts import lock_graph, touch
from plots.forecasts import Forecast, Unusable, nws, open_meteo
from plots.models import Property, PropertySeries, Series
from plots.services.fetching import NOT_FOUND, Failed, ask
from plots.services.forecasts import store_forecast

logger = logging.getLogger("readyground.weather")

NWS = "nws"
OPEN_METEO = "open-meteo"
SOURCES = (NWS, OPEN_METEO)
NEAR_DECIMALS = 3
"""Places are asked about to this many decimals, some 100 m: the service moves longer ones on, and cells are 2.5 km."""
CELL_DECIMALS = 1
"""The general service's cells are rounded places, some 11 km wide, about as wide as the cells of its models."""
DAYS_AHEAD = 8
STALE = timedelta(hours=24)
LAST_RANK = 32_000


def find_cells() -> int:
    """Rank a forecast for every property that reads none yet; returns how many were found.

    Without READYGROUND_CONTACT nothing is asked: the services want to know who asks. Holdings whose clock stands ask
    for nothing."""
    if not settings.CONTACT:
        return 0
    known = PropertySeries.objects.filter(series__source__in=SOURCES).values("property_id")
    return sum(_find_cell(place) for place in _live().exclude(pk__in=known).order_by("id"))


def cells_read() -> list[int]:
    """Series of the cells that somebody reads, each once."""
    if not settings.CONTACT:
        return []
    read = PropertySeries.objects.filter(property__in=_live(), series__source__in=SOURCES)
    return sorted(set(read.values_list("series_id", flat=True)))


def _live() -> QuerySet[Property]:
    return Property.objects.filter(holding__clock_at=None, holding__state=HoldingState.ACTIVE)


def renew(series: Series, now: datetime) -> bool:
    """Ask for one cell's forecast; True where a newer one was stored. A failure changes nothing and is logged."""
    try:
        forecast = _of_nws(series.place) if series.source == NWS else _of_open_meteo(series.place)
    except (Failed, Unusable) as failure:
        logger.warning("weather: cell %s: %s", series.place, failure)
        return False
    age = now - datetime.fromtimestamp(forecast.issued * 60, tz=now.tzinfo)
    if not timedelta(minutes=-10) <= age <= STALE:
        logger.warning("weather: cell %s: its forecast is %s h old", series.place, int(age.total_seconds() // 3600))
        return False
    return store_forecast(series_id=series.pk, forecast=forecast)


def _of_nws(cell: str) -> Forecast:
    return nws.grid(ask(f"{settings.NWS_URL}/gridpoints/{cell}", nws.grid).said)


def _of_open_meteo(cell: str) -> Forecast:
    """Times in seconds UTC and units by name, so that nothing hangs on what the service takes for granted."""
    latitude, _, longitude = cell.partition(",")
    wanted = {
        "latitude": latitude,
        "longitude": longitude,
        "hourly": ",".join([*open_meteo.HOURLY, open_meteo.RAIN]),
        "timezone": "GMT",
        "timeformat": "unixtime",
        "temperature_unit": "fahrenheit",
        "wind_speed_unit": "mph",
        "precipitation_unit": "inch",
        "forecast_days": DAYS_AHEAD,
    }
    answer = ask(f"{settings.OPEN_METEO_URL}?{urlencode(wanted)}", lambda reply: open_meteo.hours(reply, issued=0))
    return open_meteo.hours(answer.said, issued=int(answer.fetched_at.timestamp() // 60))


def _find_cell(place: Property) -> bool:
    """Rank the forecast of a property's cell after whatever it reads already."""
    at = f"{round(place.latitude, NEAR_DECIMALS):g},{round(place.longitude, NEAR_DECIMALS):g}"
    try:
        cell = nws.cell_of(ask(f"{settings.NWS_URL}/points/{at}", nws.cell_of).said)
    except Failed as failure:
        if failure.status != NOT_FOUND:
            logger.warning("weather: no cell for property %s: %s", place.pk, failure)
            return False
        return _rank(place, OPEN_METEO, _rounded(place), place.zone or "UTC")
    except Unusable as failure:
        logger.warning("weather: no cell for property %s: %s", place.pk, failure)
        return False
    return _rank(place, NWS, str(cell), cell.zone or "UTC")


def _rounded(place: Property) -> str:
    latitude, longitude = (round(degrees, CELL_DECIMALS) + 0.0 for degrees in (place.latitude, place.longitude))
    return f"{latitude:g},{longitude:g}"


def _rank(place: Property, source: str, cell: str, zone: str) -> bool:
    with transaction.atomic():
        lock_graph(place.holding_id)
        series, _ = Series.objects.get_or_create(
            source=source, place=cell, defaults={"name": f"Forecast of cell {cell}", "zone": zone}
        )
        last = PropertySeries.objects.filter(property=place).aggregate(last=Max("rank"))["last"]
        rank = min((last or 0) + 10, LAST_RANK)
        PropertySeries.objects.get_or_create(
            property=place, series=series, defaults={"rank": rank, "holding_id": place.holding_id}
        )
        touch(place.holding_id, {f"property:{place.pk}"})
    return True
