"""Bring daily history and normals of stations in: each station is asked once however many properties read it.

History is asked for once a day and normals once a quarter, counted from the copy that is kept; what the service gives
goes the way of an import. A value it leaves out never erases one that is stored.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import F, Max

from core.models import HoldingState
from core.services.facts import lock_graph, touch
from plots.forecasts import Unusable
from plots.forecasts.stations import SOURCE, StationDay, normals_of, one_station
from plots.importing.station import day_row, normal_row
from plots.models import Day, Fetched, Property, PropertySeries, Series
from plots.services.fetching import CSV, Failed, ask
from plots.services.importing.intake import Tally
from plots.services.importing.weather import merge_normals, merge_values

logger = logging.getLogger("readyground.weather")

HISTORY = replace(CSV, times=4)
"""The file of a station that measures for a century has some 11 MB."""
HISTORY_EVERY = timedelta(hours=23)
NORMALS_EVERY = timedelta(days=91)
YEARS_BACK = 40
"""So many years of history are stored."""
LAST_RANK = 32_000


def find_stations() -> list[int]:
    """Let every property read the station it names, after all it reads already, and no other; the stations' series.

    Without READYGROUND_CONTACT nothing is asked, and holdings whose clock stands ask for nothing."""
    if not settings.CONTACT:
        return []
    live = Property.objects.filter(holding__clock_at=None, holding__state=HoldingState.ACTIVE)
    ranked = PropertySeries.objects.filter(property__in=live, series__source=SOURCE)
    for link in ranked.exclude(series__place=F("property__station")).order_by("id"):
        with transaction.atomic():
            lock_graph(link.holding_id)
            link.delete()
            touch(link.holding_id, {f"property:{link.property_id}"})
    known = ranked.filter(series__place=F("property__station")).values("property_id")
    for place in live.exclude(station="").exclude(pk__in=known).select_related("holding").order_by("id"):
        _rank(place)
    return sorted(set(ranked.values_list("series_id", flat=True)))


def _rank(place: Property) -> None:
    with transaction.atomic():
        lock_graph(place.holding_id)
        series, _ = Series.objects.get_or_create(
            source=SOURCE,
            place=place.station,
            defaults={"name": f"Station {place.station}", "zone": place.zone or place.holding.zone},
        )
        last = PropertySeries.objects.filter(property=place).aggregate(last=Max("rank"))["last"]
        rank = min((last or 0) + 10, LAST_RANK)
        PropertySeries.objects.create(property=place, series=series, rank=rank, holding_id=place.holding_id)
        touch(place.holding_id, {f"property:{place.pk}"})


def fetch_station(series: Series, now: datetime) -> bool:
    """Ask for the history and the normals of a station where they are due, and store what is new; True where anything
    was. A failure changes nothing and is logged."""
    changed = fetch_history(series, now) if _due(history_url(series), HISTORY_EVERY, now) else False
    return (fetch_normals(series) if _due(normals_url(series), NORMALS_EVERY, now) else False) or changed


def history_url(series: Series) -> str:
    return f"{settings.GHCN_URL}/{series.place}.csv"


def normals_url(series: Series) -> str:
    return f"{settings.NORMALS_URL}/{series.place}.csv"


def _due(url: str, every: timedelta, now: datetime) -> bool:
    return not Fetched.objects.filter(url=url, fetched_at__gt=now - every).exists()


def fetch_history(series: Series, now: datetime) -> bool:
    """Days of the last YEARS_BACK years, never of the future."""

    def read(lines: Iterable[str]) -> list[StationDay]:
        days = one_station(lines, series.place)
        if not days:
            raise Unusable("The file has no day with a value.")
        return days

    first, last = date(now.year - YEARS_BACK, 1, 1), (now + timedelta(days=1)).date()
    try:
        answer = ask(history_url(series), read, HISTORY)
        days = read(answer.said) if answer.fresh else []
    except (Failed, Unusable) as failure:
        logger.warning("weather: station %s: %s", series.place, failure)
        return False
    rows = {day.day: day_row(day) for day in days if first <= day.day <= last}
    tally = Tally(len(rows))
    with transaction.atomic():
        done = merge_values(tally, series, Day, rows) if rows else {}
    for refusal in tally.refused:
        logger.warning("weather: station %s: %s: %s", series.place, refusal.where, refusal.reason)
    return any(done.values())


def fetch_normals(series: Series) -> bool:
    """Normals of the days of a year."""
    try:
        answer = ask(normals_url(series), lambda lines: normals_of(lines, series.place), CSV)
        days = normals_of(answer.said, series.place) if answer.fresh else []
    except (Failed, Unusable) as failure:
        logger.warning("weather: normals of station %s: %s", series.place, failure)
        return False
    with transaction.atomic():
        return any(merge_normals(Tally(len(days)), series, [normal_row(day) for day in days]))
