"""Store a forecast: the newest issue of a series takes the place of the one before."""

from __future__ import annotations

from datetime import UTC, datetime

from django.db import transaction

from plots.forecasts import Forecast
from plots.forecasts.values import VALUES
from plots.models import DayKind, Hour, RainTotal, Series
from plots.services.series import touch_readers


def store_forecast(*, series_id: int, forecast: Forecast) -> bool:
    """Take the place of the series' forecast, whole; False where what is stored was issued at that time or later.

    Observed hours stay. Holdings that read the series are woken."""
    issued = _instant(forecast.issued)
    with transaction.atomic():
        Series.objects.select_for_update(no_key=True).get(pk=series_id)
        old = Hour.objects.filter(series_id=series_id, kind=DayKind.FORECAST)
        if old.filter(issued_at__gte=issued).exists():
            return False
        old.delete()
        RainTotal.objects.filter(series_id=series_id, kind=DayKind.FORECAST).delete()
        Hour.objects.bulk_create(
            Hour(
                series_id=series_id,
                at=_instant(hour.at),
                kind=DayKind.FORECAST,
                issued_at=issued,
                **{name: getattr(hour, name) for name in VALUES},
            )
            for hour in forecast.hours
        )
        RainTotal.objects.bulk_create(
            RainTotal(
                series_id=series_id,
                starts=_instant(total.starts),
                ends=_instant(total.ends),
                issued_at=issued,
                rain_in=total.inches,
            )
            for total in forecast.rain
        )
        touch_readers(series_id)
    return True


def _instant(minute: int) -> datetime:
    return datetime.fromtimestamp(minute * 60, UTC)
