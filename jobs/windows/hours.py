"""Hours of places as arrays of one shape: places by hours. NaN is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plots.forecasts.values import VALUES, HourValues, RainTotal

Floats = NDArray[np.float64]
HOUR = 60

RAIN_MOST = "rain_most_in"
"""The most that can fall in the hour: the whole total of the stretch it lies in."""
RAIN_BEGUN = "rain_begun_in"
"""All totals whose stretch began before the hour."""
RAIN_ENDED = "rain_ended_in"
"""All totals whose stretch ended by the end of the hour."""
RAIN_BAND = "rain_band"
"""The number of the unbroken stretch of known rain that an hour lies in, missing in a gap: rain is known throughout
from one hour to another exactly where both have the same number."""


@dataclass(frozen=True, slots=True)
class Hours:
    """`count` hours of `places` places from the minute `first` on; `values[name]` has the shape (places, count)."""

    first: int
    places: int
    count: int
    values: Mapping[str, Floats]

    def of(self, name: str) -> Floats:
        """A quantity; missing everywhere where nobody gave it."""
        found = self.values.get(name)
        return np.full((self.places, self.count), np.nan) if found is None else found

    def without(self, name: str) -> Hours:
        """The same hours as if a quantity had never been given."""
        kept = {key: column for key, column in self.values.items() if key != name}
        return Hours(self.first, self.places, self.count, kept)


def hours_of(
    first: int,
    count: int,
    places: Sequence[tuple[Iterable[HourValues], Iterable[RainTotal]]],
    extra: Mapping[str, Floats] | None = None,
) -> Hours:
    """Hours from what series hold, a gap staying a gap; `extra` adds quantities worked out elsewhere (soil, stage).

    Hours outside the frame are left out; a rain total counts where its stretch touches the frame."""
    if first % HOUR:
        raise ValueError("Hours begin on the hour.")
    values = {name: np.full((len(places), count), np.nan) for name in VALUES}
    rain = {name: np.full((len(places), count), np.nan) for name in (RAIN_MOST, RAIN_BEGUN, RAIN_ENDED)}
    for place, (hours, totals) in enumerate(places):
        for hour in hours:
            at, off = divmod(hour.at - first, HOUR)
            if off == 0 and 0 <= at < count:
                for name in VALUES:
                    value = getattr(hour, name)
                    if value is not None:
                        values[name][place, at] = value
        _rain(first, count, totals, {name: column[place] for name, column in rain.items()})
    given = {name: np.asarray(column, dtype=float) for name, column in (extra or {}).items()}
    return Hours(first, len(places), count, {**values, **rain, **given, RAIN_BAND: _bands(rain[RAIN_MOST])})


def _rain(first: int, count: int, totals: Iterable[RainTotal], into: Mapping[str, Floats]) -> None:
    """A total stands for its whole stretch: in any hour of it all may fall, and only its end is sure to have it all."""
    begun, ended = np.zeros(count), np.zeros(count)
    for total in totals:
        start, end = (total.starts - first) // HOUR, -((first - total.ends) // HOUR)
        low, high = max(start, 0), min(end, count)
        if low >= high:
            continue
        into[RAIN_MOST][low:high] = np.fmax(into[RAIN_MOST][low:high], total.inches)
        if start + 1 < count:
            begun[max(start + 1, 0)] += total.inches
        if end - 1 < count:
            ended[end - 1] += total.inches
    into[RAIN_BEGUN][:] = np.cumsum(begun)
    into[RAIN_ENDED][:] = np.cumsum(ended)


def _bands(rain: Floats) -> Floats:
    known = ~np.isnan(rain)
    turns = np.diff(known, axis=1, prepend=known[:, :1])
    return np.where(known, np.cumsum(turns, axis=1), np.nan)
