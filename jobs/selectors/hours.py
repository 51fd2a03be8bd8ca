"""Hours of weather of properties, merged from the series that each ranks: what the first does not know the next may."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from jobs.graph.data import FAR
from jobs.minutes import day_end, day_start, floor_minute, instant
from jobs.selectors.water import rivers, stages_by_hour
from jobs.windows.hours import HOUR, Hours, hours_of
from jobs.windows.water import STAGE, Gate
from plots.forecasts.stations import SOURCE
from plots.forecasts.values import VALUES, HourValues, RainTotal
from plots.models import Day, DayKind, Hour, PropertyGauge, PropertySeries
from plots.models import RainTotal as StoredTotal

BEHIND_H = 72
AHEAD_H = 192
OLDEST = timedelta(hours=24)
"""A forecast issued longer ago, or that does not say when, opens no window."""


@dataclass(frozen=True, slots=True)
class PlaceHours:
    """Hours by property (row `place[id]`), and when the newest forecast of each was issued: None without a fresh one.

    `last` counts a forecast that went stale too; at the minute `stale_at` the first of the fresh ones goes stale (FAR:
    there is none). `gates` are those of properties whose access a river closes."""

    hours: Hours
    place: dict[int, int]
    issued: dict[int, datetime | None]
    last: dict[int, datetime | None] = field(default_factory=dict)
    stale_at: int = FAR
    gates: dict[int, Gate] = field(default_factory=dict)


def hours_at(properties: Sequence[int], now: datetime, since: int | None = None) -> PlaceHours:
    """From three days ago, for what has to have been dry, to eight days ahead, counted from the minute `since` (now).
    Five queries for any number of places, seven where a river closes one.

    Observed values go before a forecast of the same series; a forecast that is stale at `now` counts as none."""
    ids = sorted(set(properties))
    first = (floor_minute(now) if since is None else since) // HOUR * HOUR - BEHIND_H * HOUR
    count = BEHIND_H + AHEAD_H
    ranked: dict[int, list[int]] = defaultdict(list)
    links = PropertySeries.objects.filter(property_id__in=ids).order_by("property_id", "rank")
    for property_id, series_id in links.values_list("property_id", "series_id"):
        ranked[property_id].append(series_id)
    series = sorted({one for several in ranked.values() for one in several})
    start, end = instant(first), instant(first + count * HOUR)
    known = _hours(series, start, end, now)
    totals, when = _totals(series, start, end, now)
    gauged = list(_gauge_days(series, start))
    today = floor_minute(now)
    for one, starts, ends, inches in gauged:
        if ends <= today:
            totals[one].append(RainTotal(starts, ends, inches))
    # Places of one cell read the same series: their hours are put together once.
    read = sorted({tuple(ranked[pk]) for pk in ids})
    merged = [_merged([known[one] for one in several], [totals[one] for one in several]) for several in read]
    shared, at = hours_of(first, count, merged), {several: row for row, several in enumerate(read)}
    rows = np.array([at[tuple(ranked[pk])] for pk in ids], dtype=np.intp)
    issued = {pk: max((t for one in ranked[pk] for t in known[one].issued), default=None) for pk in ids}
    last = {pk: max((t for one in ranked[pk] for t in known[one].given), default=None) for pk in ids}
    fresh = [*when, *(t for one in known.values() for t in one.issued)]
    stale_at = floor_minute(min(fresh) + OLDEST) + 1 if fresh else FAR
    place = {pk: at for at, pk in enumerate(ids)}
    known_rivers = rivers(ids, now)
    stages, unknown_at = stages_by_hour(known_rivers, place, first, count, now)
    columns = {name: column[rows] for name, column in shared.values.items()}
    return PlaceHours(
        Hours(first, len(ids), count, {**columns, STAGE: np.asarray(stages, dtype=float)}),
        place,
        issued,
        last,
        min([stale_at, unknown_at, *(ends for _, _, ends, _ in gauged if ends > today)]),
        {river.property: river.gate for river in known_rivers},
    )


def bounded_places(properties: Collection[int]) -> bool:
    """Whether anything is there by which hours could be taken from all work: a series or a river. Two queries."""
    here = {"property_id__in": sorted(properties)}
    return PropertySeries.objects.filter(**here).exists() or PropertyGauge.objects.filter(**here).exists()


class _Series:
    """What one series knows: values and rain by hour, observed before forecast."""

    def __init__(self) -> None:
        self.values: dict[int, dict[str, float]] = {}
        self.rain: dict[int, float] = {}
        self.issued: set[datetime] = set()
        self.given: set[datetime] = set()


def _hours(
    series: Sequence[int], start: datetime | None, end: datetime | None, now: datetime
) -> defaultdict[int, _Series]:
    found: defaultdict[int, _Series] = defaultdict(_Series)
    rows = Hour.objects.filter(series_id__in=series, at__gte=start, at__lt=end)
    for pk, at, kind, issued, rain, *values in rows.order_by("series_id", "at", "-kind").values_list(
        "series_id", "at", "kind", "issued_at", "rain_in", *VALUES
    ):  # "observed" comes before "forecast"
        here, minute = found[pk], floor_minute(at)
        if kind == DayKind.FORECAST and issued is not None:
            here.given.add(issued)
        if kind == DayKind.FORECAST and not _fresh(issued, now):
            continue
        if kind == DayKind.FORECAST:
            here.issued.add(issued)
        mine = here.values.setdefault(minute, {})
        for name, value in zip(VALUES, values, strict=True):
            if value is not None:
                mine.setdefault(name, value)
        if rain is not None:
            here.rain.setdefault(minute, rain)
    return found


def _totals(
    series: Sequence[int], start: datetime | None, end: datetime | None, now: datetime
) -> tuple[defaultdict[int, list[RainTotal]], set[datetime]]:
    """Totals by series, and when the forecasts among them were issued."""
    found: defaultdict[int, list[RainTotal]] = defaultdict(list)
    when: set[datetime] = set()
    rows = StoredTotal.objects.filter(series_id__in=series, ends__gt=start, starts__lt=end)
    for pk, starts, ends, kind, issued, inches in rows.order_by("series_id", "starts", "ends", "-kind").values_list(
        "series_id", "starts", "ends", "kind", "issued_at", "rain_in"
    ):
        if kind == DayKind.OBSERVED or _fresh(issued, now):
            found[pk].append(RainTotal(floor_minute(starts), floor_minute(ends), inches))
            if kind == DayKind.FORECAST and issued is not None:
                when.add(issued)
    return found, when


def _gauge_days(series: Sequence[int], start: datetime | None) -> Iterator[tuple[int, int, int, float]]:
    """(series, start, end, inches) of days of rain gauges that are read by the day.

    Such a day counts when it is over: of a day that still runs, the rest is still to come. Days of a public station say
    nothing of hours: they end when its observer reads the gauge, often in the morning."""
    rows = Day.objects.filter(series_id__in=series, kind=DayKind.OBSERVED, rain_in__isnull=False).exclude(
        series__source=SOURCE
    )
    if start is not None:
        rows = rows.filter(date__gte=(start - timedelta(days=1)).date())
    named = rows.order_by("series_id", "date").values_list("series_id", "series__zone", "date", "rain_in")
    for pk, zone, day, inches in named:
        if inches is not None:
            yield pk, day_start(zone, day), day_end(zone, day), inches


def _fresh(issued: datetime | None, now: datetime) -> bool:
    """By whole minutes, as the walk counts them."""
    return issued is not None and floor_minute(now) <= floor_minute(issued + OLDEST)


def _merged(several: Sequence[_Series], totals: Sequence[list[RainTotal]]) -> tuple[list[HourValues], list[RainTotal]]:
    """By hour the first series that knows a value; a rain total only where no better series knows any of its hours."""
    values: dict[int, dict[str, float]] = {}
    rain: list[RainTotal] = []
    covered: set[int] = set()
    for one, spans in zip(several, totals, strict=True):
        for minute, mine in one.values.items():
            here = values.setdefault(minute, {})
            for name, value in mine.items():
                here.setdefault(name, value)
        hourly = [RainTotal(minute, minute + HOUR, inches) for minute, inches in sorted(one.rain.items())]
        new: set[int] = set()
        for total in [*hourly, *spans]:
            within = set(range(total.starts, total.ends, HOUR))
            if not within & covered and not within & new:
                rain.append(total)
                new |= within
        covered |= new
    return [HourValues(minute, **values[minute]) for minute in sorted(values)], rain
