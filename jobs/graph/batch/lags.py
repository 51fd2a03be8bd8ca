"""Lags of degree days on many curves at once: the curves laid end to end, each question one binary search (D5).

The answers are those of `Curve.reach` and `Curve.latest_anchor`, element by element.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from jobs.graph.arcs import KNOWN
from jobs.graph.data import FAR, NEG, Curve

Ints = NDArray[np.int64]

APART = 2**42
"""Distance of one curve's instants and sums from the next's: wider than twice FAR."""


def saturate(instants: Ints) -> Ints:
    """Each instant, or FAR or NEG where it lies beyond what instants can be."""
    found = np.where(instants >= KNOWN, FAR, instants)
    found[found <= -KNOWN] = NEG
    return found


class Curves:
    """All curves of a problem; a question names a curve by its place, counted from 1, for every element."""

    def __init__(self, curves: Sequence[Curve]) -> None:
        size = np.array([len(curve) for curve in curves], np.int64)
        self.size = np.concatenate([[0], size])
        self.first_sum = np.concatenate([[0, 0], np.cumsum(size)])
        self.first_start = np.concatenate([[0, 0], np.cumsum(size + 1)])
        self.starts = np.array([start for curve in curves for start in curve.day_starts], np.int64)
        self.sums = np.array([total for curve in curves for total in curve.totals], np.int64)
        places = np.arange(1, len(curves) + 1)
        self.apart_starts = self.starts + np.repeat(places, size + 1) * APART
        self.apart_sums = self.sums + np.repeat(places, size) * APART

    def reach(self, curve: Ints, anchor: Ints, amount: Ints) -> Ints:
        """First instant at which the amount has been counted from each anchor; FAR from FAR, NEG from NEG."""
        day = np.searchsorted(self.apart_starts, anchor + curve * APART, "right") - 1 - self.first_start[curve]
        inside = (day >= 0) & (day < self.size[curve])
        day = np.where(inside, day, 0)
        first = self.first_sum[curve]
        wanted = self.sums[first + day] + amount + curve * APART
        reached = np.maximum(np.searchsorted(self.apart_sums, wanted, "left") - first, day)
        inside &= reached < self.size[curve]
        ends = self.starts[self.first_start[curve] + np.where(inside, reached, 0) + 1]
        return np.where(anchor <= -KNOWN, NEG, np.where(inside, ends, FAR))

    def latest_anchor(self, curve: Ints, instant: Ints, amount: Ints) -> Ints:
        """Latest anchor from which the amount is counted by each instant; FAR by FAR, NEG by NEG."""
        first = self.first_start[curve]
        last = np.searchsorted(self.apart_starts, instant + curve * APART, "right") - first
        last = np.maximum(last, 1) - 2
        known = last >= 0
        last = np.where(known, last, 0)
        wanted = self.sums[self.first_sum[curve] + last] - amount + curve * APART
        day = np.searchsorted(self.apart_sums, wanted, "right") - self.first_sum[curve]
        day = np.minimum(day, last + 1) - 1
        known &= day >= 0
        ends = self.starts[first + np.where(known, day, 0) + 1] - 1
        return np.where(instant >= KNOWN, FAR, np.where(known, ends, NEG))
