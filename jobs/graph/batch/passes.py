"""Earliest and latest starts of many copies at once, level by level (D8, D9).

An instance is a job in one copy. Instances stand in the order of their levels: first those that do not move, then each
level of the longest way along minimal lags, so that a level is one slice and all that bounds it lies before it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from jobs.graph.arcs import KNOWN
from jobs.graph.batch.lags import Curves, Ints, saturate
from jobs.graph.data import FAR, NEG
from jobs.graph.fixpoint import HORIZON

Bools = NDArray[np.bool_]

ROUNDS = 16
"""A copy that maximal lags still move after so many rounds is reckoned by itself."""


@dataclass(slots=True)
class Bounds:
    """Arcs between instances. Of a minimum `weight` is what a fixed lag asks from start to start; with a `curve` (0 for
    none) `a`, `b` and `amount` say it: these four are empty where all lags are fixed. `arc` is the arc's place."""

    arc: Ints
    tail: Ints
    head: Ints
    weight: Ints
    a: Ints
    b: Ints
    amount: Ints
    curve: Ints

    @classmethod
    def fixed(cls, arc: Ints, tail: Ints, head: Ints, weight: Ints) -> Bounds:
        return cls(arc, tail, head, weight, *([arc[:0]] * 4))

    def of(self, which: Ints) -> Bounds:
        """Some of the bounds; columns that were left empty stay so."""
        return Bounds(*(c.take(which) if len(c) else c for c in (getattr(self, name) for name in self.__slots__)))

    def head_not_before(self, curves: Curves, start: Ints) -> Ints:
        """Least starts of the heads when the tails start at `start`, an instant for each bound."""
        asked = start + self.weight
        curved = np.flatnonzero(self.curve)
        if len(curved):
            one = self if len(curved) == len(start) else self.of(curved)
            reached = curves.reach(one.curve, saturate(start[curved] + one.a), one.amount)
            asked[curved] = reached - one.b
        return saturate(asked)

    def tail_not_after(self, curves: Curves, start: Ints) -> Ints:
        """Greatest starts of the tails when the heads start at `start` at the latest."""
        asked = start - self.weight
        curved = np.flatnonzero(self.curve)
        if len(curved):
            one = self if len(curved) == len(start) else self.of(curved)
            end = saturate(start[curved] + one.b)
            asked[curved] = curves.latest_anchor(one.curve, end, one.amount) - one.a
        return saturate(asked)


@dataclass(slots=True)
class Pass:
    """Instances and bounds of the copies reckoned together. `ends[k]` is where the slice of level k - 1 ends; `cuts[k]`
    and `bends[k]` where the fixed and the curved minima end whose head is of a level below k. `pulls` are the maximal
    lags: the tail not before the head plus weight. `first`, above -KNOWN, and `last`, below KNOWN, are the least and
    greatest starts allowed; where nothing fits, `first` is FAR and `last` NEG."""

    curves: Curves
    copy: Ints
    low: Ints
    top: Ints
    first: Ints
    last: Ints
    ends: list[int]
    fixed: Bounds
    cuts: list[int]
    curved: Bounds
    bends: list[int]
    pulls: Bounds

    def earliest(self, today: int) -> tuple[Ints, Ints]:
        """(starts, copies that have to be reckoned by themselves)."""
        return self._settle(True, today, self.low.copy())

    def latest(self, today: int) -> tuple[Ints, Ints]:
        """The same backward."""
        return self._settle(False, today, self.top.copy())

    def _settle(self, forward: bool, today: int, found: Ints) -> tuple[Ints, Ints]:
        """The fixpoint: climb, let the maximal lags pull, climb again with the copies that moved alone."""
        (self._climb if forward else self._sink)(found)
        off: list[Ints] = []
        here, place = self, np.arange(len(found))
        mine = found
        for _ in range(ROUNDS):
            moved = here._pull(forward, mine)
            if not moved.any():
                break
            copies = np.zeros(int(self.copy.max()) + 1, bool)
            copies[here.copy[moved]] = True
            here, kept = here._only(copies)
            place, mine = place[kept], mine[kept]
            known = np.abs(mine) < KNOWN
            (here._climb if forward else here._sink)(mine)
            lost = known & (mine > today + HORIZON if forward else mine < today - HORIZON)
            lost[: here.ends[0]] = False
            if lost.any():
                off.append(np.unique(here.copy[lost]))
                copies[off[-1]] = False
                here, kept = here._only(copies)
                place, mine = place[kept], mine[kept]
            found[place] = mine
        else:
            off.append(np.unique(here.copy))
        return found, np.concatenate(off) if off else np.zeros(0, np.int64)

    def _climb(self, found: Ints) -> None:
        """A sum stays within reach of FAR or NEG until its instance's level comes, and is made FAR or NEG there."""
        ends, fixed, curved = self.ends, self.fixed, self.curved
        tails, heads, weights = fixed.tail, fixed.head, fixed.weight
        for level in range(1, len(ends)):
            here = slice(ends[level - 1], ends[level])
            if here.start == here.stop:
                continue
            if self.cuts[level - 1] < self.cuts[level]:
                some = slice(self.cuts[level - 1], self.cuts[level])
                np.maximum.at(found, heads[some], found[tails[some]] + weights[some])
            if self.bends[level - 1] < self.bends[level]:
                some = slice(self.bends[level - 1], self.bends[level])
                anchor = found[curved.tail[some]] + curved.a[some]
                reached = self.curves.reach(curved.curve[some], anchor, curved.amount[some])
                np.maximum.at(found, curved.head[some], reached - curved.b[some])
            row = found[here]
            np.putmask(row, row > self.last[here], FAR)
            np.putmask(row, row <= -KNOWN, NEG)

    def _sink(self, found: Ints) -> None:
        """The same backward."""
        ends, fixed, curved = self.ends, self.fixed, self.curved
        tails, heads, weights = fixed.tail, fixed.head, fixed.weight
        for level in range(len(ends) - 1, 0, -1):
            here = slice(ends[level - 1], ends[level])
            if here.start == here.stop:
                continue
            row = found[here]
            np.putmask(row, row < self.first[here], NEG)
            np.putmask(row, row >= KNOWN, FAR)
            if self.cuts[level - 1] < self.cuts[level]:
                some = slice(self.cuts[level - 1], self.cuts[level])
                np.minimum.at(found, tails[some], found[heads[some]] - weights[some])
            if self.bends[level - 1] < self.bends[level]:
                some = slice(self.bends[level - 1], self.bends[level])
                end = found[curved.head[some]] + curved.b[some]
                latest = self.curves.latest_anchor(curved.curve[some], end, curved.amount[some])
                np.minimum.at(found, curved.tail[some], latest - curved.a[some])

    def _pull(self, forward: bool, found: Ints) -> Bools:
        """Let every maximal lag pull once; which instances moved. Nothing follows from FAR or NEG (D2)."""
        pulls = self.pulls
        source, target = (pulls.head, pulls.tail) if forward else (pulls.tail, pulls.head)
        start = found[source]
        asked = start + pulls.weight if forward else start - pulls.weight
        moves = np.abs(start) < KNOWN
        moves &= (found[target] < asked) if forward else (found[target] > asked)
        moved = np.zeros(len(found), bool)
        if moves.any():
            moved[target[moves]] = True
            (np.maximum if forward else np.minimum).at(found, target[moves], asked[moves])
        return moved

    def _only(self, copies: Bools) -> tuple[Pass, Ints]:
        """The pass of some copies, and the places of its instances in this one."""
        kept = np.flatnonzero(copies[self.copy])
        place = np.zeros(len(self.copy), np.int64)
        place[kept] = np.arange(len(kept))

        def some(bounds: Bounds, cuts: list[int]) -> tuple[Bounds, list[int]]:
            which = np.flatnonzero(copies[self.copy[bounds.head]])
            taken = bounds.of(which)
            taken.tail, taken.head = place[taken.tail], place[taken.head]
            return taken, np.searchsorted(which, cuts).tolist()

        fixed, cuts = some(self.fixed, self.cuts)
        curved, bends = some(self.curved, self.bends)
        return (
            replace(
                self,
                copy=self.copy[kept],
                low=self.low[kept],
                top=self.top[kept],
                first=self.first[kept],
                last=self.last[kept],
                ends=np.searchsorted(kept, self.ends).tolist(),
                fixed=fixed,
                cuts=cuts,
                curved=curved,
                bends=bends,
                pulls=some(self.pulls, [])[0],
            ),
            kept,
        )
