"""Years of daily weather laid over the days of one season: a row a year of history, a column a day of the season.

Temperatures are degrees Fahrenheit, rain inches, NaN is missing. The year in which the season's first day falls stands
for each year of history in turn; days of the season's next calendar years follow in that history's next years.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

HIGH, LOW, RAIN = "high_f", "low_f", "rain_in"
QUANTITIES = (HIGH, LOW, RAIN)
MOST_MISSING = 0.05
"""A year of history counts where at most this share of the season's days is missing (a setting of ours)."""

Known = tuple[float | None, float | None, float | None]
"""High, low and rain of one day."""


@dataclass(frozen=True, slots=True)
class History:
    """`values[quantity]` has the shape (years, days); `days` are the season's own days, `years` those of history."""

    years: tuple[int, ...]
    days: tuple[date, ...]
    values: Mapping[str, Floats]

    def of(self, name: str) -> Floats:
        return self.values[name]

    def complete(self, names: Iterable[str]) -> Bools:
        """By year: whether of each of these quantities enough days are known."""
        enough = np.ones(len(self.years), bool)
        for name in names:
            enough &= np.isnan(self.values[name]).mean(axis=1) <= MOST_MISSING
        return enough

    def only(self, rows: Bools) -> History:
        """The same days of some of the years."""
        kept = tuple(year for year, keep in zip(self.years, rows.tolist(), strict=True) if keep)
        return History(kept, self.days, {name: column[rows] for name, column in self.values.items()})

    def part(self, columns: slice) -> History:
        """Some of the days of the same years."""
        kept = {name: column[:, columns] for name, column in self.values.items()}
        return History(self.years, self.days[columns], kept)

    def between(self, first: date, last: date) -> slice:
        """The columns of the days from `first` to `last`, as far as there are any."""
        start = max(0, (first - self.days[0]).days)
        return slice(start, max(start, (last - self.days[0]).days + 1))


def history(known: Mapping[date, Known], first_day: date, last_day: date, *, before: int) -> History:
    """Every year of `known` before the year `before` whose days may meet the season's; a day that nobody knows is
    missing.

    29 February of the season is 28 February in a year that has none."""
    days = tuple(first_day + timedelta(days=n) for n in range((last_day - first_day).days + 1))
    ahead = last_day.year - first_day.year
    candidates = sorted({day.year for day in known} & set(range(1, before - ahead)))
    values = {name: np.full((len(candidates), len(days)), np.nan) for name in QUANTITIES}
    for row, year in enumerate(candidates):
        for column, day in enumerate(days):
            told = known.get(in_year(day, year + day.year - first_day.year))
            if told is None:
                continue
            for name, value in zip(QUANTITIES, told, strict=True):
                if value is not None:
                    values[name][row, column] = value
    return History(tuple(candidates), days, values)


def in_year(day: date, year: int) -> date:
    """The same month and day of another year; 29 February becomes 28 February where it has to."""
    try:
        return day.replace(year=year)
    except ValueError:
        return day.replace(year=year, day=28)


def filled(values: Ints, missing: int) -> Ints:
    """Whole numbers by (year, day) with each missing one replaced by the mean of that day over the other years, rounded
    down; 0 where no year knows it. For sums only: what decides by itself whether a day will do stays missing."""
    gone = values == missing
    if not gone.any():
        return values
    count = np.maximum((~gone).sum(axis=0), 1)
    mean = np.where(gone, 0, values).sum(axis=0) // count
    return np.where(gone, mean[None, :], values)


def names_in(wanted: Collection[str]) -> tuple[str, ...]:
    """Quantities in their fixed order."""
    return tuple(name for name in QUANTITIES if name in wanted)
