"""What set each date of a copy: an arc, a span, a fact, a deadline or today (D12).

Ties go to the lowest arc id; an arc goes before a span or deadline, these before today. Following the reasons never
runs in a circle.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from typing import TYPE_CHECKING

from jobs.graph.allowed import down, up
from jobs.graph.arcs import head_not_after, head_not_before, tail_not_after, tail_not_before
from jobs.graph.data import FAR, NEG, Cause, Why
from jobs.graph.network import OUTCOME, Role

if TYPE_CHECKING:
    from jobs.graph.solve import Copy

TODAY, SPAN, FACT, DEADLINE, NONE = (
    Why(cause) for cause in (Cause.TODAY, Cause.SPAN, Cause.FACT, Cause.DEADLINE, Cause.NONE)
)


Tight = tuple[int, int, int]
"""(arc, job, the other job): an arc that gives the job its very date."""


def inside(parts: Iterable[set[int]], tail: int, head: int) -> bool:
    """Both ends lie in one of the parts."""
    return any(tail in part and head in part for part in parts)


def reasons_of_earliest(copy: Copy, es: Sequence[int], set_aside: Sequence[set[int]]) -> list[Why]:
    """Why each job of the copy cannot start sooner, by position."""
    tight: list[Tight] = [(arc, head, tail) for arc, tail, head, floor in copy.floors if floor == es[head]]
    tight += [
        (bound[0], bound[2], bound[1]) for bound in copy.minimal if head_not_before(bound, es[bound[1]]) == es[bound[2]]
    ]
    pulled = [
        (bound[0], bound[1], bound[2])
        for bound in copy.maximal
        if tail_not_before(bound, es[bound[2]]) == es[bound[1]] and not inside(set_aside, bound[1], bound[2])
    ]
    own = [_own_earliest(copy, v, instant) for v, instant in enumerate(es)]

    def stands_alone(v: int) -> bool:
        starts = copy.net.starts[v]
        return es[v] == up(starts, copy.net.low[v]) or any(first == es[v] for first, _ in starts)

    return _reasons(copy, own, es, NEG, tight, pulled, stands_alone)


def reasons_of_latest(copy: Copy, ls: Sequence[int], set_aside: Sequence[set[int]]) -> list[Why]:
    """Why each job of the copy must start by its latest start, by position."""
    tight: list[Tight] = [
        (bound[0], bound[1], bound[2])
        for bounds in (copy.minimal, copy.trailing)
        for bound in bounds
        if tail_not_after(bound, ls[bound[2]]) == ls[bound[1]]
    ]
    pulled = [(arc, head, tail) for arc, tail, head, ceiling in copy.ceilings if ceiling == ls[head]]
    pulled += [
        (bound[0], bound[2], bound[1])
        for bound in copy.maximal
        if head_not_after(bound, ls[bound[1]]) == ls[bound[2]] and not inside(set_aside, bound[1], bound[2])
    ]
    own = [_own_latest(copy, v, instant) for v, instant in enumerate(ls)]

    def stands_alone(v: int) -> bool:
        starts = copy.net.starts[v]
        return ls[v] == down(starts, copy.net.top[v]) or any(last == ls[v] for _, last in starts)

    return _reasons(copy, own, ls, FAR, tight, pulled, stands_alone)


def _reasons(
    copy: Copy,
    found: list[Why],
    dates: Sequence[int],
    free: int,
    tight: list[Tight],
    pulled: list[Tight],
    stands_alone: Callable[[int], bool],
) -> list[Why]:
    """`found` is what set each date if no arc did. `tight` and `pulled` are the arcs that give a job its very date,
    through minimal and through maximal lags."""
    chosen: dict[int, Tight] = {}
    for arc in (*tight, *pulled):
        if dates[arc[1]] != free and (arc[1] not in chosen or arc < chosen[arc[1]]):
            chosen[arc[1]] = arc
    if pulled:
        _open_circles(copy, chosen, found, tight, pulled, stands_alone)
    for job, arc in chosen.items():
        found[job] = Why(Cause.ARC, None if arc[0] == OUTCOME else arc[0])
    return found


def _open_circles(
    copy: Copy,
    chosen: dict[int, Tight],
    found: list[Why],
    tight: list[Tight],
    pulled: list[Tight],
    stands_alone: Callable[[int], bool],
) -> None:
    """Let one job of every circle of reasons name what lies outside of it; only maximal lags close circles.

    That is the lowest other arc that does not lead back, else the date that a job has by itself or from a closure. Lags
    on weather can leave neither: then each gives the other its date, and one that waits names no cause. Nor does a job
    under way whose successors are late only by what it began itself.
    """
    settled: set[int] = set()
    for start in sorted(chosen):
        way = _way(chosen, start, settled)
        settled.update(way)
        after = chosen[way[-1]][2] if way else start
        if after not in way:
            continue
        circle = sorted(way[way.index(after) :])
        outside = [arc for arc in (*tight, *pulled) if arc[1] in circle and arc[1] not in _way(chosen, arc[2])]
        if outside:
            least = min(outside)
            chosen[least[1]] = least
            continue
        alone = next((job for job in circle if stands_alone(job)), None)
        if alone is None:
            alone = min(circle, key=lambda job: (copy.net.role[job] is Role.OPEN, chosen[job] not in tight, job))
            found[alone] = NONE
        del chosen[alone]


def _way(chosen: dict[int, Tight], job: int, settled: Collection[int] = ()) -> list[int]:
    """The jobs from one along the chosen arcs, each once, to one that is settled or has none."""
    way: list[int] = []
    while job in chosen and job not in settled and job not in way:
        way.append(job)
        job = chosen[job][2]
    return way


def _own_earliest(copy: Copy, v: int, instant: int) -> Why:
    net = copy.net
    role = net.role[v]
    if role is not Role.OPEN:
        return NONE if role is Role.RELAY else FACT
    if instant > net.today:
        return SPAN
    return SPAN if any(first == instant for first, _ in net.starts[v]) else TODAY


def _own_latest(copy: Copy, v: int, instant: int) -> Why:
    net = copy.net
    role = net.role[v]
    if role >= Role.SATISFIED:
        return FACT
    if instant >= FAR or role is Role.RELAY:
        return NONE
    return DEADLINE if instant == net.deadline[v] else SPAN
