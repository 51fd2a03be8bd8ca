"""Years of daily weather of properties, from the series that each ranks: what the first does not know the next may."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date

from jobs.chances.history import Known
from plots.models import Day, DayKind, PropertySeries, Series


@dataclass(slots=True)
class PastDays:
    """Observed days of one property, and the names of the series that told of earlier years, the first rank first."""

    days: dict[date, Known] = field(default_factory=dict)
    names: list[str] = field(default_factory=list)


def past_days(properties: Collection[int], before: date) -> dict[int, PastDays]:
    """By property all observed days before a day; three queries. A value that one series lacks the next may give."""
    ranked: dict[int, list[int]] = defaultdict(list)
    rows = PropertySeries.objects.filter(property_id__in=sorted(properties)).order_by("property_id", "rank")
    for property_id, series_id in rows.values_list("property_id", "series_id"):
        ranked[property_id].append(series_id)
    wanted = {series for several in ranked.values() for series in several}
    names = {series.pk: str(series) for series in Series.objects.filter(pk__in=sorted(wanted))}
    known: dict[int, list[tuple[date, float | None, float | None, float | None]]] = defaultdict(list)
    days = Day.objects.filter(series_id__in=sorted(wanted), kind=DayKind.OBSERVED, date__lt=before)
    for series_id, day, high, low, rain in days.values_list("series_id", "date", "high_f", "low_f", "rain_in"):
        known[series_id].append((day, high, low, rain))
    found = {property_id: PastDays() for property_id in properties}
    for property_id, several in ranked.items():
        here = found[property_id]
        for series in several:
            if any(day.year < before.year for day, *_ in known[series]):
                here.names.append(names[series])
            for day, high, low, rain in known[series]:
                old = here.days.get(day)
                if old is None:
                    here.days[day] = (high, low, rain)
                elif None in old:
                    merged = zip(old, (high, low, rain), strict=True)
                    here.days[day] = tuple(new if was is None else was for was, new in merged)  # type: ignore[assignment]
    return found
