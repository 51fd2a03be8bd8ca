"""The air of whole days for evapotranspiration: dew point or humidity, and wind, from the hours of properties."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import nan

import numpy as np

from jobs.minutes import floor_minute, instant
from jobs.selectors.hours import PlaceHours
from jobs.windows.hours import HOUR, Floats
from plots.agromet.evapotranspiration import wind_at_2_m
from plots.models import DayKind, PropertySeries

HOURS_OF_A_DAY = 20
"""Of so many hours of a day a quantity has to be known."""
ANEMOMETER_M = 10.0
"""The height for which services tell the wind."""
M_S_PER_MPH = 0.44704
NAMES = ("dew_point_f", "humidity_pct", "wind_mph")


@dataclass(frozen=True, slots=True)
class DayAir:
    """Mean dew point (degrees C), least and greatest relative humidity (percent) and wind at 2 m (m/s) of a day; NaN
    is missing."""

    dew_c: float = nan
    least_pct: float = nan
    most_pct: float = nan
    wind_2_m: float = nan


@dataclass(frozen=True, slots=True)
class AirHours:
    """The quantities of NAMES (rows) by hour of one property, from the minute `first` on."""

    first: int
    values: Floats

    def of_day(self, start: int, end: int) -> DayAir:
        """The air of a day from its minutes, each quantity where nearly all its hours are known."""
        here = self.values[:, max((start - self.first) // HOUR, 0) : max((end - self.first) // HOUR, 0)]
        enough = (~np.isnan(here)).sum(axis=1) >= HOURS_OF_A_DAY
        dew, humidity, wind = (row[~np.isnan(row)] if fit else None for row, fit in zip(here, enough, strict=True))
        return DayAir(
            nan if dew is None else (float(dew.mean()) - 32.0) / 1.8,
            nan if humidity is None else float(humidity.min()),
            nan if humidity is None else float(humidity.max()),
            nan if wind is None else float(wind_at_2_m(wind.mean() * M_S_PER_MPH, ANEMOMETER_M)),
        )


def air_hours(known: PlaceHours, starts: Mapping[int, int]) -> dict[int, AirHours]:
    """By property ({property: minute}) its air from that minute to the end of the hours: observed hours before the
    frame, of each hour what the best rank that tells its wind says; in the frame what stands there. One query."""
    hours = known.hours
    found = {}
    for place, start in starts.items():
        first = start // HOUR * HOUR
        values = np.full((len(NAMES), (hours.first - first) // HOUR + hours.count), np.nan)
        values[:, values.shape[1] - hours.count :] = [hours.of(name)[known.place[place]] for name in NAMES]
        found[place] = AirHours(first, values)
    if not starts:
        return found
    rows = PropertySeries.objects.filter(
        property_id__in=sorted(starts),
        series__hours__kind=DayKind.OBSERVED,
        series__hours__at__gte=instant(min(starts.values())),
        series__hours__at__lt=instant(hours.first),
        series__hours__wind_mph__isnull=False,
    ).order_by("property_id", "-rank", "series__hours__at")
    columns = (f"series__hours__{name}" for name in ("at", *NAMES))
    for place, at, *told in rows.values_list("property_id", *columns):
        here = found[place]
        hour, off = divmod(floor_minute(at) - here.first, HOUR)
        if off == 0 and hour >= 0:
            here.values[:, hour] = [nan if value is None else value for value in told]
    return found
