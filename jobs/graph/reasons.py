"""What set each date of a copy: an arc, a span, a fact, a deadline or today (D12).

Ties go to the lowest arc id; an arc goes before a span or deadline, these before today.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
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


def inside(parts: Iterable[set[int]], tail: int, head: int) -> bool:
    """Both ends lie in one of the parts."""
    return any(tail in part and head in part for part in parts)


def reasons_of_earliest(copy: Copy, es: Sequence[int], set_aside: Sequence[set[int]]) -> list[Why]:
    """Why each job of the copy cannot start sooner, by position."""
    tight: list[tuple[int, int, int]] = [
        (arc, head, tail) for arc, tail, head, floor in copy.floors if floor == es[head]
    ]
    tight += [
        (bound[0], bound[2], bound[1]) for bound in copy.minimal if head_not_before(bound, es[bound[1]]) == es[bound[2]]
    ]
    pulled = [
        (bound[0], bound[1], bound[2])
        for bound in copy.maximal
        if tail_not_before(bound, es[bound[2]]) == es[bound[1]] and not inside(set_aside, bound[1], bound[2])
    ]
    own = [_own_earliest(copy, v, instant) for v, instant in enumerate(es)]
    return _reasons(copy, own, es, NEG, tight, pulled, lambda v: up(copy.net.starts[v], copy.net.low[v]))


def reasons_of_latest(copy: Copy, ls: Sequence[int], set_aside: Sequence[set[int]]) -> list[Why]:
    """Why each job of the copy must start by its latest start, by position."""
    tight: list[tuple[int, int, int]] = [
        (arc, head, tail) for arc, tail, head, ceiling in copy.ceilings if ceiling == ls[head]
    ]
    for bounds in (copy.minimal, copy.trailing):
        tight += [
            (bound[0], bound[1], bound[2]) for bound in bounds if tail_not_after(bound, ls[bound[2]]) == ls[bound[1]]
        ]
    pulled = [
        (bound[0], bound[2], bound[1])
        for bound in copy.maximal
        if head_not_after(bound, ls[bound[1]]) == ls[bound[2]] and not inside(set_aside, bound[1], bound[2])
    ]
    own = [_own_latest(copy, v, instant) for v, instant in enumerate(ls)]
    return _reasons(copy, own, ls, FAR, tight, pulled, lambda v: down(copy.net.starts[v], copy.net.top[v]))


def _reasons(
    copy: Copy,
    found: list[Why],
    dates: Sequence[int],
    free: int,
    tight: list[tuple[int, int, int]],
    pulled: list[tuple[int, int, int]],
    alone: Callable[[int], int],
) -> list[Why]:
    """`found` is what set each date if no arc did, `alone` says the date that an open job has by itself.

    `tight` and `pulled` are (arc, job, the other job), through minimal and through maximal lags. Only the latter can
    close a circle of reasons; then the first job whose date would be the same by itself speaks for itself."""
    chosen: dict[int, tuple[int, int]] = {}
    for arc, job, other in (*tight, *pulled):
        if dates[job] != free and (job not in chosen or arc < chosen[job][0]):
            chosen[job] = arc, other
    if pulled:
        _open_circles(chosen, lambda v: copy.net.role[v] is Role.OPEN and alone(v) == dates[v])
    for job, (arc, _) in chosen.items():
        found[job] = Why(Cause.ARC, None if arc == OUTCOME else arc)
    return found


def _open_circles(chosen: dict[int, tuple[int, int]], speaks_for_itself: Callable[[int], bool]) -> None:
    settled: set[int] = set()
    for start in sorted(chosen):
        way: list[int] = []
        job = start
        while job in chosen and job not in settled and job not in way:
            way.append(job)
            job = chosen[job][1]
        settled.update(way)
        if job in way:
            for member in sorted(way[way.index(job) :]):
                if speaks_for_itself(member):
                    del chosen[member]
                    break


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
