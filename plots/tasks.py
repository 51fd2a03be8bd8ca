"""Work that the worker does for `plots`: forecasts, river stages and stations. A lost or doubled call does no harm."""

from celery import shared_task
from django.utils import timezone

from plots.models import Gauge, Series
from plots.services.gauges import find_gauges, renew_gauge
from plots.services.stations import fetch_station, find_stations
from plots.services.weather import cells_read, find_cells, renew


@shared_task(name="plots.tasks.bring_forecasts", expires=1_200)
def bring_forecasts() -> None:
    """Find cells for new properties, then ask for each cell's forecast and each gauge's stages, one task each."""
    find_cells()
    for series_id in cells_read():
        renew_forecast.delay(series_id)
    for gauge_id in find_gauges():
        renew_stages.delay(gauge_id)


@shared_task(name="plots.tasks.renew_forecast", expires=1_200)
def renew_forecast(series_id: int) -> None:
    """Ask for one cell's forecast and store it if it is newer."""
    series = Series.objects.filter(pk=series_id).first()
    if series is not None:
        renew(series, timezone.now())


@shared_task(name="plots.tasks.renew_stages", expires=1_200)
def renew_stages(gauge_id: int) -> None:
    """Ask for one gauge's stages and store what is new."""
    gauge = Gauge.objects.filter(pk=gauge_id).first()
    if gauge is not None:
        renew_gauge(gauge, timezone.now())


@shared_task(name="plots.tasks.bring_stations", expires=3_000)
def bring_stations() -> None:
    """Find the stations that properties name, then look after each, one task each."""
    for series_id in find_stations():
        renew_station.delay(series_id)


@shared_task(name="plots.tasks.renew_station", expires=3_000, soft_time_limit=200, time_limit=240)
def renew_station(series_id: int) -> None:
    """Ask for one station's history once a day and its normals once a quarter; years of days take a while to store."""
    series = Series.objects.filter(pk=series_id).first()
    if series is not None:
        fetch_station(series, timezone.now())
