"""First freezes of autumn from years of daily lows, and whether a late planting ripens before one.

Temperatures are degrees Fahrenheit. A year with too many missing lows says nothing and is left out by name; nothing is
guessed for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

AUTUMN = (7, 1)
MOST_MISSING = 0.05
"""A year counts where at most this share of its days from 1 July to the freeze (or the year's end) has no low (a
setting of ours)."""
BEFORE_FREEZE_DAYS = 10
BLOOM_TO_RIPE_DAYS = 45
LATE_SEED_SHARE = 1.20
"""Grain sorghum: ripe 10 days before the mean first freeze; 45 days from bloom to ripeness where a hybrid's days to
bloom alone are known; a fifth more seed when planted late (Sorghum Checkoff, Bean, June 2020)."""


@dataclass(frozen=True, slots=True)
class Freezes:
    """By year the first autumn day at or below a threshold, None where none came by the year's end; `left_out` are the
    years that are not known well enough."""

    threshold_f: float
    by_year: Mapping[int, date | None]
    left_out: tuple[int, ...]

    def mean_day(self, year: int) -> date | None:
        """The mean first freeze as a day of `year`; a year without one counts as 31 December. None without a year."""
        if not self.by_year:
            return None
        after = [
            (found or date(at, 12, 31)).toordinal() - date(at, *AUTUMN).toordinal()
            for at, found in self.by_year.items()
        ]
        return date(year, *AUTUMN) + timedelta(days=round(sum(after) / len(after)))


def first_freezes(lows: Mapping[date, float], threshold_f: float) -> Freezes:
    """The first freeze of each year of which any autumn day is known."""
    found: dict[int, date | None] = {}
    left_out = []
    for year in sorted({day.year for day in lows if (day.month, day.day) >= AUTUMN}):
        start = date(year, *AUTUMN)
        days = [start + timedelta(days=n) for n in range((date(year, 12, 31) - start).days + 1)]
        freeze = next((day for day in days if day in lows and lows[day] <= threshold_f), None)
        looked = [day for day in days if freeze is None or day <= freeze]
        if sum(day not in lows for day in looked) > MOST_MISSING * len(looked):
            left_out.append(year)
        else:
            found[year] = freeze
    return Freezes(threshold_f, found, tuple(left_out))


def usable_days(planted: date, mean_freeze: date) -> int:
    """Days to ripeness of the longest sorghum hybrid that still makes it: from planting to the mean first freeze, less
    10 days. Below 0 nothing makes it."""
    return (mean_freeze - planted).days - BEFORE_FREEZE_DAYS


def days_to_ripe(*, ripe: int | None = None, bloom: int | None = None) -> int:
    """A sorghum hybrid's days to ripeness, from its days to bloom where nothing else is known.

    Raises:
        ValueError: neither is given."""
    if ripe is not None:
        return ripe
    if bloom is None:
        raise ValueError("Give the hybrid's days to ripeness, or its days to bloom.")
    return bloom + BLOOM_TO_RIPE_DAYS


@dataclass(frozen=True, slots=True)
class Ripening:
    """In how many of the years that are known a planting is ripe before the first freeze. `ripe` and `frozen` are the
    years; `left_out` those that are not known well enough."""

    ripe: tuple[int, ...]
    frozen: tuple[int, ...]
    left_out: tuple[int, ...]

    @property
    def share(self) -> float | None:
        years = len(self.ripe) + len(self.frozen)
        return len(self.ripe) / years if years else None


def ripening(ripe_on: Mapping[int, date | None], freezes: Freezes) -> Ripening:
    """`ripe_on` by year: the day on which the requirement is reached with that year's temperatures, None where they
    never reach it. Ripe on the day of the freeze itself is too late."""
    ripe: list[int] = []
    frozen: list[int] = []
    for year, freeze in sorted(freezes.by_year.items()):
        if year not in ripe_on:
            continue
        day = ripe_on[year]
        (ripe if day is not None and (freeze is None or day < freeze) else frozen).append(year)
    left = sorted(set(freezes.left_out) | (set(freezes.by_year) - set(ripe_on)))
    return Ripening(tuple(ripe), tuple(frozen), tuple(left))
