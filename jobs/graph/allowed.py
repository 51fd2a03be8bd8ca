"""Allowed starts of a job: the starts for which all of it lies inside a stretch in which work may go on (D3).

Spans are half-open [from, to), in whole minutes, sorted. Starts come as closed stretches (first, last): `first` and
`last` are both allowed. A job of `duration` minutes that starts at t needs t >= from and t + duration <= to; a job of
no duration needs an instant inside, so t < to. Spans that touch are one.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from operator import itemgetter

from jobs.graph.data import FAR, NEG

Starts = Sequence[tuple[int, int]]

_FIRST, _LAST = itemgetter(0), itemgetter(1)


def allowed_starts(spans: Sequence[tuple[int, int]], duration: int) -> list[tuple[int, int]]:
    """The stretches of allowed starts, sorted and disjoint; empty if the job fits nowhere. FAR and NEG stay open."""
    joined: list[tuple[int, int]] = []
    for first, to in spans:
        if joined and first <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(joined[-1][1], to)
        else:
            joined.append((first, to))
    needed = max(duration, 1)
    found = [(first, FAR if to >= FAR else to - needed) for first, to in joined]
    return [(first, last) for first, last in found if first <= last]


def up(starts: Starts, instant: int) -> int:
    """The first allowed start at or after the instant, or FAR."""
    k = bisect_left(starts, instant, key=_LAST)
    return max(starts[k][0], instant) if k < len(starts) else FAR


def down(starts: Starts, instant: int) -> int:
    """The last allowed start at or before the instant, or NEG."""
    k = bisect_right(starts, instant, key=_FIRST) - 1
    return min(starts[k][1], instant) if k >= 0 else NEG
