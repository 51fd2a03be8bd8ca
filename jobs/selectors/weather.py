"""The curves of a walk: degree days and rain by property, merged from the ranked series of each (D4)."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, timedelta
from functools import lru_cache

from jobs.graph.data import Curve
from jobs.minutes import local_day
from plots.degree_days import DegreeDaySpec, NormalDay, days_from_hours, degree_day_curve, rain_curve
from plots.models import Day, DayKind, Hour, Normal, PropertySeries

RAIN = "rain"

HighLow = tuple[float, float]


class PropertyWeather:
    """What the ranked series of one property know by day: the first rank that knows a day wins."""

    def __init__(self) -> None:
        self.observed: dict[date, HighLow] = {}
        self.forecast: dict[date, HighLow] = {}
        self.rain: dict[date, float] = {}
        self.normals: dict[str, tuple[float | None, float | None, dict[str, float]]] = {}


def curves(
    wanted: Collection[tuple[int, str]], zones: dict[int, str], first_day: date, today: date
) -> dict[tuple[int, str], Curve]:
    """Curves by (property id, way of counting), "86/50", a base such as "40", or "rain".

    `zones` by property id; `first_day` is the first day any lag may count from. A property without a series has no
    curve: its lags are not known, and never taken as met.
    """
    found: dict[tuple[int, str], Curve] = {}
    weather = property_weather({property_id for property_id, _ in wanted}, zones, first_day)
    for property_id, kind in sorted(wanted):
        here = weather.get(property_id)
        if here is None:
            continue
        zone = zones[property_id]
        if kind == RAIN:
            found[property_id, kind] = rain_curve(zone, first_day, today, here.rain)
            continue
        normals = tuple((key, high, low, by.get(kind)) for key, (high, low, by) in here.normals.items())
        curve = _curve(
            kind, zone, first_day, today, tuple(here.observed.items()), tuple(here.forecast.items()), normals
        )
        if len(curve):
            found[property_id, kind] = curve
    return found


@lru_cache(maxsize=32)
def _curve(
    kind: str,
    zone: str,
    first_day: date,
    today: date,
    observed: tuple[tuple[date, HighLow], ...],
    forecast: tuple[tuple[date, HighLow], ...],
    normals: tuple[tuple[str, float | None, float | None, float | None], ...],
) -> Curve:
    """Kept by content: properties that read the same days share a curve, and so do walks of the same day."""
    told = {key: NormalDay(high, low, published) for key, high, low, published in normals}
    spec = DegreeDaySpec.parse(kind)
    return degree_day_curve(spec, zone, first_day, today, dict(observed), dict(forecast), told).curve


def property_weather(properties: set[int], zones: Mapping[int, str], first_day: date) -> dict[int, PropertyWeather]:
    """By property what its ranked series know of days from `first_day` on; four queries."""
    ranked: dict[int, list[int]] = {}
    rows = PropertySeries.objects.filter(property_id__in=properties).order_by("property_id", "rank")
    for property_id, series_id in rows.values_list("property_id", "series_id"):
        ranked.setdefault(property_id, []).append(series_id)
    wanted = {series for several in ranked.values() for series in several}
    days: dict[int, list[tuple[date, str, float | None, float | None, float | None]]] = {}
    for series, day, kind, high, low, rain in Day.objects.filter(series_id__in=wanted, date__gte=first_day).values_list(
        "series_id", "date", "kind", "high_f", "low_f", "rain_in"
    ):
        days.setdefault(series, []).append((day, kind, high, low, rain))
    normals: dict[int, list[tuple[str, float | None, float | None, dict[str, float]]]] = {}
    for series, key, high, low, published in Normal.objects.filter(series_id__in=wanted).values_list(
        "series_id", "month_day", "high_f", "low_f", "degree_days"
    ):
        normals.setdefault(series, []).append((key, high, low, published))
    hourly = _hourly(wanted, first_day)
    found = {}
    for property_id, several in ranked.items():
        here = found[property_id] = PropertyWeather()
        for series in several:
            for day, kind, high, low, rain in days.get(series, ()):
                if high is not None and low is not None:
                    (here.observed if kind == DayKind.OBSERVED else here.forecast).setdefault(day, (high, low))
                if rain is not None and kind == DayKind.OBSERVED:
                    here.rain.setdefault(day, rain)
            _add_hours(here, hourly.get(series, []), zones[property_id])
            for key, high, low, published in normals.get(series, ()):
                here.normals.setdefault(key, (high, low, published))
    return found


HourRow = tuple[int, float | None, float | None]


def _hourly(series: set[int], first_day: date) -> dict[int, list[HourRow]]:
    rows = Hour.objects.filter(series_id__in=series, kind=DayKind.OBSERVED, at__date__gte=first_day - timedelta(days=1))
    found: dict[int, list[HourRow]] = {}
    for owner, at, temp, rain in rows.order_by("at").values_list("series_id", "at", "temp_f", "rain_in"):
        found.setdefault(owner, []).append((int(at.timestamp()) // 60, temp, rain))
    return found


def _add_hours(here: PropertyWeather, rows: list[HourRow], zone: str) -> None:
    """Days made of a series' hours; typed or daily values of the same or a better rank stay."""
    temps = {minute: temp for minute, temp, _ in rows if temp is not None}
    for day, high_low in days_from_hours(temps, zone).items():
        here.observed.setdefault(day, high_low)
    sums: dict[date, float] = {}
    for minute, _, rain in rows:
        if rain is not None:
            day = local_day(zone, minute)
            sums[day] = sums.get(day, 0.0) + rain
    for day, rain in sums.items():
        here.rain.setdefault(day, rain)
