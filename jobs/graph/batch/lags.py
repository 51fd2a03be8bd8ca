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

APART = 4 * FAR
"""Distance of one curve's instants and sums from the next's; sums and amounts lie below FAR."""


def saturate(instants: Ints) -> Ints:
    """Each instant, or FAR or NEG where it lies beyond what instants can be."""
    found = np.where(instants >= KNOWN, FAR, instants)
    found[found <= -KNOWN] = NEG
    return found


class Curves:
    """All curves of a problem; a question names a curve by its place, counted from 1, for every element.

    A curve has one entry for each of its days and one more for the instant at which its last day ends. An instant or
    sum that a curve does not know falls on an entry of that kind, its own or the one before it, and there the answer is
    FAR or NEG: place -1 is such an entry too. So no question has to ask which curve an entry is of."""

    def __init__(self, curves: Sequence[Curve]) -> None:
        size = np.array([len(curve) + 1 for curve in curves], np.int64)
        last = np.cumsum(size) - 1
        self._before = np.concatenate([[-1, -1], last])
        starts = np.array([start for curve in curves for start in curve.day_starts], np.int64)
        sums = np.array([total for curve in curves for total in (*curve.totals, 2 * FAR)], np.int64)
        apart = np.repeat(np.arange(1, len(curves) + 1), size) * APART
        self._starts, self._sums = starts + apart, sums + apart
        # Of an entry without a day: no amount below FAR leads away from it, forward or backward.
        self._from, self._back_from = self._sums.copy(), self._sums.copy()
        self._from[last] -= FAR
        self._back_from[last] += FAR
        self._ends, self._last_anchors = np.roll(starts, -1), np.roll(starts, -1) - 1
        self._ends[last], self._last_anchors[last] = FAR, NEG

    def reach(self, curve: Ints, anchor: Ints, amount: Ints) -> Ints:
        """First instant at which the amount has been counted from each anchor; FAR from FAR, NEG from NEG."""
        day = self._starts.searchsorted(anchor + curve * APART, "right") - 1
        reached = np.maximum(self._sums.searchsorted(self._from[day] + amount, "left"), day)
        ends: Ints = self._ends[reached]
        ends[anchor <= -KNOWN] = NEG
        return ends

    def latest_anchor(self, curve: Ints, instant: Ints, amount: Ints) -> Ints:
        """Latest anchor from which the amount is counted by each instant; FAR by FAR, NEG by NEG."""
        last = self._starts.searchsorted(instant + curve * APART, "right") - 2
        last = np.maximum(last, self._before[curve])
        day = self._sums.searchsorted(self._back_from[last] - amount, "right") - 1
        anchors: Ints = self._last_anchors[np.minimum(day, last)]
        anchors[instant >= KNOWN] = FAR
        return anchors
