"""Bring forecasts in: a property's grid cell is found once, and each cell is asked once however many read it."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Max, QuerySet

from core.models import HoldingState
from core.services.facts import lock_graph, touch
from plots.forecasts import Unusable, nws
from plots.models import Property, PropertySeries, Series
from plots.services.fetching import Failed, ask
from plots.services.forecasts import store_forecast

logger = logging.getLogger("readyground.weather")

NWS = "nws"
NEAR_DECIMALS = 3
"""Places are asked about to this many decimals, some 100 m: the service moves longer ones on, and cells are 2.5 km."""
STALE = timedelta(hours=24)
LAST_RANK = 32_000


def find_cells() -> int:
    """Rank a forecast for every property that reads none of this service yet; returns how many were found.

    Without READYGROUND_CONTACT nothing is asked: the service wants to know who asks. Holdings whose clock stands ask
    for nothing."""
    if not settings.CONTACT:
        return 0
    known = PropertySeries.objects.filter(series__source=NWS).values("property_id")
    return sum(_find_cell(place) for place in _live().exclude(pk__in=known).order_by("id"))


def cells_read() -> list[int]:
    """Series of the cells that somebody reads, each once."""
    if not settings.CONTACT:
        return []
    read = PropertySeries.objects.filter(property__in=_live(), series__source=NWS)
    return sorted(set(read.values_list("series_id", flat=True)))


def _live() -> QuerySet[Property]:
    return Property.objects.filter(holding__clock_at=None, holding__state=HoldingState.ACTIVE)


def renew(series: Series, now: datetime) -> bool:
    """Ask for one cell's forecast; True where a newer one was stored. A failure changes nothing and is logged."""
    try:
        answer = ask(f"{settings.NWS_URL}/gridpoints/{series.place}")
        forecast = nws.grid(answer.json)
    except (Failed, Unusable) as failure:
        logger.warning("weather: cell %s: %s", series.place, failure)
        return False
    age = now - datetime.fromtimestamp(forecast.issued * 60, tz=now.tzinfo)
    if not timedelta(minutes=-10) <= age <= STALE:
        logger.warning("weather: cell %s: its forecast is %s h old", series.place, int(age.total_seconds() // 3600))
        return False
    return store_forecast(series_id=series.pk, forecast=forecast)


def _find_cell(place: Property) -> bool:
    """Rank the forecast of a property's cell after whatever it reads already."""
    at = f"{round(place.latitude, NEAR_DECIMALS):g},{round(place.longitude, NEAR_DECIMALS):g}"
    try:
        cell = nws.cell_of(ask(f"{settings.NWS_URL}/points/{at}").json)
    except (Failed, Unusable) as failure:
        logger.warning("weather: no cell for property %s: %s", place.pk, failure)
        return False
    with transaction.atomic():
        lock_graph(place.holding_id)
        series, _ = Series.objects.get_or_create(
            source=NWS, place=str(cell), defaults={"name": f"Forecast of grid cell {cell}", "zone": cell.zone or "UTC"}
        )
        last = PropertySeries.objects.filter(property=place).aggregate(last=Max("rank"))["last"]
        rank = min((last or 0) + 10, LAST_RANK)
        PropertySeries.objects.get_or_create(
            property=place, series=series, defaults={"rank": rank, "holding_id": place.holding_id}
        )
        touch(place.holding_id, {f"property:{place.pk}"})
    return True
