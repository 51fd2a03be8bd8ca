"""Work that the worker does for `plots`: forecasts. A lost or doubled call does no harm."""

from celery import shared_task
from django.utils import timezone

from plots.models import Series
from plots.services.weather import cells_read, find_cells, renew


@shared_task(name="plots.tasks.bring_forecasts", expires=1_200)
def bring_forecasts() -> None:
    """Find cells for new properties, then ask for each cell's forecast, one task a cell."""
    find_cells()
    for series_id in cells_read():
        renew_forecast.delay(series_id)


@shared_task(name="plots.tasks.renew_forecast", expires=1_200)
def renew_forecast(series_id: int) -> None:
    """Ask for one cell's forecast and store it if it is newer."""
    series = Series.objects.filter(pk=series_id).first()
    if series is not None:
        renew(series, timezone.now())
