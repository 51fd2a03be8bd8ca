"""Ragged lists of instants, one a job and year, laid end to end so that one binary search asks all of them (D3, D5).

A segment is `job * years + year`. Instants lie within plus and minus FAR, so a segment's are kept apart by APART.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from jobs.chances.history import Bools, Ints
from jobs.graph.allowed import allowed_starts
from jobs.graph.arcs import KNOWN
from jobs.graph.data import FAR, NEG

APART = 4 * FAR
Runs = tuple[Ints, Ints, Ints]
"""Years, first minutes and ends (exclusive) of all runs of suitable days, by year and time."""


def runs_of_days(holds: Bools, day_starts: Sequence[int]) -> Runs:
    """The runs of suitable days of every year as minutes."""
    starts = np.asarray(day_starts, np.int64)
    edges = np.diff(np.pad(holds, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    years, first = np.nonzero(edges == 1)
    return years.astype(np.int64), starts[first], starts[np.nonzero(edges == -1)[1]]


def stretches(runs: Runs, spans: Sequence[tuple[int, int]]) -> Runs:
    """What of the runs lies in one of the spans (sorted and disjoint), by year and time."""
    years, first, to = runs
    parts = []
    for low, high in spans:
        since, until = np.maximum(first, low), np.minimum(to, high)
        some = since < until
        parts.append((years[some], since[some], until[some]))
    if len(parts) == 1:
        return parts[0]
    if not parts:
        return years[:0], first[:0], to[:0]
    years, first, to = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    order = np.lexsort((first, years))
    return years[order], first[order], to[order]


class Starts:
    """The allowed starts of every job in every year."""

    def __init__(self, years: int, jobs: int) -> None:
        self.years = years
        self._jobs = jobs
        self._segment: list[Ints] = []
        self._first: list[Ints] = []
        self._last: list[Ints] = []

    def add(self, job: int, runs: Runs, duration: int) -> None:
        """Jobs are added in order; stretches that touch are one."""
        years, first, to = runs
        if len(years) > 1:
            apart = np.flatnonzero((years[1:] != years[:-1]) | (first[1:] > to[:-1])) + 1
            begins, ends = np.concatenate([[0], apart]), np.concatenate([apart - 1, [len(years) - 1]])
            years, first, to = years[begins], first[begins], to[ends]
        last = np.where(to >= FAR, FAR, to - max(duration, 1))
        fits = first <= last
        self._append(job * self.years + years[fits], first[fits], last[fits])

    def add_every_year(self, job: int, spans: Sequence[tuple[int, int]], duration: int) -> None:
        """The same starts in every year."""
        starts = allowed_starts(spans, duration)
        segment = job * self.years + np.repeat(np.arange(self.years), len(starts))
        self._append(segment, *(np.tile(np.array([one[at] for one in starts], np.int64), self.years) for at in (0, 1)))

    def _append(self, segment: Ints, first: Ints, last: Ints) -> None:
        self._segment.append(segment)
        self._first.append(first)
        self._last.append(last)

    def close(self) -> None:
        """All jobs are added."""
        segment, self.first = np.concatenate(self._segment), np.concatenate(self._first)
        self._keys = np.concatenate(self._last) + segment * APART
        self.first = np.append(self.first, FAR)
        self.ends = np.searchsorted(segment, np.arange(self._jobs * self.years), "right")

    def up(self, segment: Ints, instant: Ints) -> Ints:
        """The first allowed start at or after each instant, FAR where there is none; `segment` has its shape."""
        place = self._keys.searchsorted(instant + segment * APART, "left")
        some = place < self.ends[segment]
        found = np.maximum(self.first[np.where(some, place, len(self.first) - 1)], instant)
        return np.where(some & (instant < KNOWN), found, FAR)


class Sums:
    """Daily values of one curve in every year: the lag functions forward, as `Curve.reach` and `RainClock.reach`."""

    def __init__(self, day_starts: Sequence[int], values: Ints) -> None:
        self.starts = np.asarray(day_starts, np.int64)
        self.values = values
        totals = np.cumsum(values, axis=1)
        self.years, self.days = values.shape
        self.totals = totals
        self._keys = (totals + np.arange(self.years)[:, None] * APART).ravel()

    def day(self, instant: Ints) -> tuple[Ints, Bools]:
        """(day, whether it is one of the curve's)."""
        day = self.starts.searchsorted(instant, "right") - 1
        return np.clip(day, 0, self.days - 1), (day >= 0) & (day < self.days)

    def reach(self, anchor: Ints, amount: Ints) -> Ints:
        """`anchor` by (bound, year), `amount` by bound: the end of the first day that reaches it."""
        day, known = self.day(anchor)
        year = np.arange(self.years)[None, :]
        wanted = self.totals[year, day] + np.maximum(amount, 0)[:, None]
        place = self._keys.searchsorted(wanted + year * APART, "left") - year * self.days
        place = np.maximum(place, day)
        known &= place < self.days
        return np.where(known, self.starts[np.where(known, place, 0) + 1], FAR)

    def rain(self, anchor: Ints, hundredths: int, then: int) -> Ints:
        """The end of the first day after the anchor's with so much rain, and the minutes after it."""
        day, known = self.day(anchor)
        at = np.arange(self.days)
        ahead = np.where(self.values >= hundredths, at[None, :], self.days)
        following = np.minimum.accumulate(ahead[:, ::-1], axis=1)[:, ::-1]
        following = np.concatenate([following, np.full((self.years, 1), self.days)], axis=1)
        place = following[np.arange(self.years)[None, :], day + 1]
        known &= place < self.days
        return np.where(known, self.starts[np.where(known, place, 0) + 1] + then, FAR)


EVERYWHERE = ((NEG, FAR),)
