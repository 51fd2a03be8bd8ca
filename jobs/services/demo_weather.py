"""The demo's invented weather: a smooth year of normals, and a week of forecast hours by a few figures a day."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from core.models import Holding
from plots.models import Day, DayKind, Gauge, Hour, Normal, Property, PropertyGauge, RainTotal, Reading, Series

COLDEST_H, CALMEST_H, GUST = 5, 4, 1.45
"""Hours of the day at which an invented day is coldest and calmest, and how much gusts pass the wind."""
READ_EVERY, TO_COME_EVERY = timedelta(hours=2), timedelta(hours=3)
"""How far apart stages of the invented river are read, and forecast."""


def normals(series: Series, rows: Mapping[str, Any]) -> Iterator[Normal]:
    """An invented smooth year: coldest on 20 January."""
    for n in range(365):
        day = date(2027, 1, 1) + timedelta(days=n)
        mean = rows["normal_mean"] - rows["normal_swing"] * math.cos(2 * math.pi * (n - 19) / 365)
        spread = rows["normal_spread"]
        yield Normal(
            series=series, month_day=f"{day:%m-%d}", high_f=round(mean + spread, 1), low_f=round(mean - spread, 1)
        )


def past_years(series: Series, weather: Mapping[str, Any], rows: Mapping[str, Any]) -> Iterator[Day]:
    """Invented years, the same every time: the smooth year of the normals, with spells of some days that are warmer or
    colder, wet or dry."""
    draw = Random(rows["seed"])
    off, wet = 0.0, False
    first, last = date(rows["first_year"], 1, 1), date(rows["first_year"] + rows["years"] - 1, 12, 31)
    for n in range((last - first).days + 1):
        day = first + timedelta(days=n)
        if draw.random() < rows["spell_ends"]:
            off, wet = draw.gauss(0.0, rows["warmer_or_colder"]), draw.random() < rows["wet_spells"]
        turn = 2 * math.pi * (day.timetuple().tm_yday - 20) / 365
        mean = weather["normal_mean"] - weather["normal_swing"] * math.cos(turn) + off
        rain = draw.expovariate(1 / rows["inches"]) if wet and draw.random() < 0.9 else 0.0
        spread = rows["spread"] * draw.uniform(0.6, 1.3)
        high, low = round(mean + spread, 1), round(mean - spread, 1)
        yield Day(series=series, date=day, high_f=high, low_f=low, rain_in=round(min(rain, 5.0), 2))


def store_hours(series: Series, rows: Mapping[str, Any], zone: ZoneInfo, windier: float) -> None:
    """A forecast of whole days, its rain as totals of stretches; `windier` is the place's share of the wind told."""
    issued = _instant(rows["issued"], zone)
    hours: list[Hour] = []
    totals: list[RainTotal] = []
    for offset, day in enumerate(rows["day"]):
        midnight = datetime.combine(date.fromisoformat(rows["first"]) + timedelta(days=offset), time(), zone)
        begin = midnight.astimezone(UTC)
        wet = _wet(day)
        if wet:
            first, last, inches = wet
            stretch = begin + timedelta(hours=first), begin + timedelta(hours=last)
            totals.append(
                RainTotal(series=series, starts=stretch[0], ends=stretch[1], issued_at=issued, rain_in=inches)
            )
        for hour in range(24):
            dry = not wet or not wet[0] <= hour < wet[1]
            hours.append(
                Hour(
                    series=series,
                    at=begin + timedelta(hours=hour),
                    kind=DayKind.FORECAST,
                    issued_at=issued,
                    rain_in=0.0 if dry else None,
                    **_values(day, hour, windier),
                )
            )
    Hour.objects.bulk_create(hours)
    RainTotal.objects.bulk_create(totals)


def _values(day: Mapping[str, Any], hour: int, windier: float) -> dict[str, float]:
    low, high = day["temp"]
    still, strong = (speed * windier for speed in day["wind"])
    temp = low + (high - low) * _rise(hour, COLDEST_H)
    wind = still + (strong - still) * _rise(hour, CALMEST_H)
    return {
        "temp_f": round(temp, 1),
        "dew_point_f": min(day["dew"], round(temp, 1)),
        "wind_mph": round(wind, 1),
        "gust_mph": round(wind * GUST, 1),
        "wind_dir_deg": (day["from"] + hour) % 360,
        "thunder_pct": day["thunder"],
    }


def _rise(hour: int, lowest: int) -> float:
    """From 0 at the lowest hour to 1 ten hours later and back."""
    after = (hour - lowest) % 24
    return math.sin(math.pi / 2 * after / 10) if after <= 10 else math.cos(math.pi / 2 * (after - 10) / 14)


def store_river(holding: Holding, place: Property, rows: Mapping[str, Any], zone: ZoneInfo) -> None:
    """The gauge of a property's access with stages read and to come; another demo's gauge is made anew."""
    PropertyGauge.objects.create(
        holding=holding, property=place, site=rows["site"],
        **{name: rows[name] for name in ("level_ft", "margin_ft", "hours_down")},
    )  # fmt: skip
    said = {name: rows[name] for name in ("name", "action_ft", "minor_ft", "category")}
    gauge, _ = Gauge.objects.update_or_create(site=rows["site"], defaults=said)
    gauge.readings.all().delete()
    issued = _instant(rows["issued"], zone)
    stages = [
        (DayKind.OBSERVED, rows["read_from"], READ_EVERY, rows["read"], None),
        (DayKind.FORECAST, rows["to_come_from"], TO_COME_EVERY, rows["to_come"], issued),
    ]
    Reading.objects.bulk_create(
        Reading(gauge=gauge, kind=kind, at=_instant(first, zone) + n * every, feet=feet, issued_at=when)
        for kind, first, every, listed, when in stages
        for n, feet in enumerate(listed)
    )


def _instant(text: str, zone: ZoneInfo) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone).astimezone(UTC)


def _wet(day: Mapping[str, Any]) -> tuple[int, int, float] | None:
    """ "06-18 0.6": hours of the day and inches in all."""
    if "rain" not in day:
        return None
    hours, inches = day["rain"].split()
    first, last = hours.split("-")
    return int(first), int(last), float(inches)
