"""Circles among prerequisites and contradictions among fixed lags, each named by its jobs or arcs (D14)."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from jobs.graph.data import Arc, Fixed, Relation

Edge = tuple[int, int]


class CycleError(ValueError):
    """Jobs wait for one another in a circle; `jobs` names them in the order of waiting."""

    def __init__(self, jobs: Sequence[int]) -> None:
        self.jobs = tuple(jobs)
        names = ", ".join(str(job) for job in self.jobs)
        super().__init__(f"Jobs {names} wait for one another in a circle. Take one of these prerequisites away.")


def find_cycle(edges: Iterable[Edge]) -> list[int] | None:
    """The jobs of one circle in the order of the edges, from its smallest id on, or None.

    Equal edges in any order give the same circle.
    """
    heads = _heads(edges)
    done: set[int] = set()
    for root in sorted(heads):
        way: list[int] = []
        on_way: set[int] = set()
        trail = [iter((root,))]
        while trail:
            job = next(trail[-1], None)
            if job is None:
                trail.pop()
                if way:
                    done.add(way[-1])
                    on_way.discard(way.pop())
            elif job in on_way:
                cycle = way[way.index(job) :]
                smallest = cycle.index(min(cycle))
                return cycle[smallest:] + cycle[:smallest]
            elif job not in done:
                way.append(job)
                on_way.add(job)
                trail.append(iter(heads.get(job, ())))
    return None


def path_between(edges: Iterable[Edge], start: int, goal: int) -> list[int] | None:
    """The jobs of a shortest way along the edges from `start` to `goal`, both included, or None.

    An edge (a, b) would close a circle exactly if there is a way from b to a: that way, then, is the circle. Give the
    edges of their component only, and the search looks no further. `start == goal` is a way of one job.
    """
    heads = _heads(edges)
    came: dict[int, int | None] = {start: None}
    queue = deque([start])
    while queue:
        job = queue.popleft()
        if job == goal:
            way = [job]
            while (before := came[way[-1]]) is not None:
                way.append(before)
            return way[::-1]
        for head in heads.get(job, ()):
            if head not in came:
                came[head] = job
                queue.append(head)
    return None


def strongly_connected(nodes: Sequence[int], edges: Iterable[Edge]) -> list[list[int]]:
    """The strongly connected parts in topological order: every edge runs inside a part or to a later one."""
    heads = _heads(edges)
    number: dict[int, int] = {}
    low: dict[int, int] = {}
    stack: list[int] = []
    on_stack: set[int] = set()
    parts: list[list[int]] = []
    for root in sorted(nodes):
        if root in number:
            continue
        trail = [(root, iter(heads.get(root, ())))]
        number[root] = low[root] = len(number)
        stack.append(root)
        on_stack.add(root)
        while trail:
            node, rest = trail[-1]
            for head in rest:
                if head not in number:
                    number[head] = low[head] = len(number)
                    stack.append(head)
                    on_stack.add(head)
                    trail.append((head, iter(heads.get(head, ()))))
                    break
                if head in on_stack:
                    low[node] = min(low[node], number[head])
            else:
                trail.pop()
                if trail:
                    low[trail[-1][0]] = min(low[trail[-1][0]], low[node])
                if low[node] == number[node]:
                    first = stack.index(node)
                    parts.append(sorted(stack[first:]))
                    on_stack.difference_update(stack[first:])
                    del stack[first:]
    return parts[::-1]


@dataclass(frozen=True, slots=True)
class Step:
    """One link of a loop of fixed lags: an arc, read as a minimum or (backward) as a maximum, and what it adds, in
    minutes from start to start."""

    arc: int
    maximum: bool
    minutes: int


@dataclass(frozen=True, slots=True)
class FixedContradiction:
    """A loop of fixed lags that no dates can meet: the least that its minima ask is `over` minutes more than its
    maxima allow. `jobs` are its jobs in order, from the smallest id on; `steps[k]` leads from `jobs[k]` to the next."""

    jobs: tuple[int, ...]
    steps: tuple[Step, ...]
    over: int


def fixed_contradiction(arcs: Iterable[Arc], durations: Mapping[int, int]) -> FixedContradiction | None:
    """A loop in which the longest way of fixed minima is above a fixed maximum (D14, first sentence), or None.

    Lags on weather are not looked at: they contradict by season, not for ever. `durations` are minutes by job.
    """
    steps: list[tuple[int, int, Step]] = []
    for arc in sorted(arcs, key=lambda arc: arc.id):
        a = durations[arc.tail] if arc.relation in (Relation.FINISH_START, Relation.FINISH_FINISH) else 0
        b = durations[arc.head] if arc.relation in (Relation.FINISH_FINISH, Relation.START_FINISH) else 0
        if isinstance(arc.minimum, Fixed):
            steps.append((arc.tail, arc.head, Step(arc.id, False, a + arc.minimum.minutes - b)))
        if isinstance(arc.maximum, Fixed):
            steps.append((arc.head, arc.tail, Step(arc.id, True, b - a - arc.maximum.minutes)))
    loop = positive_loop([(tail, head, step.minutes) for tail, head, step in steps])
    if loop is None:
        return None
    smallest = loop.index(min(loop, key=lambda k: steps[k][0]))
    loop = loop[smallest:] + loop[:smallest]
    return FixedContradiction(
        tuple(steps[k][0] for k in loop),
        tuple(steps[k][2] for k in loop),
        sum(steps[k][2].minutes for k in loop),
    )


def positive_loop(steps: Sequence[tuple[int, int, int]]) -> list[int] | None:
    """Indices of the (from, to, weight) steps of a loop whose weights add up to more than 0, in order, or None."""
    length = dict.fromkeys((end for step in steps for end in step[:2]), 0)
    came: dict[int, int] = {}
    for _ in range(len(length) + 1):
        risen = None
        for k, (start, end, weight) in enumerate(steps):
            if length[start] + weight > length[end]:
                length[end] = length[start] + weight
                came[end] = k
                risen = end
        if risen is None:
            return None
    assert risen is not None  # the last round rose, or it would have returned
    # What still rises after as many rounds as there are ends hangs behind a loop: so many steps back is inside it.
    for _ in range(len(length)):
        risen = steps[came[risen]][0]
    loop = [came[risen]]
    while steps[loop[-1]][0] != risen:
        loop.append(came[steps[loop[-1]][0]])
    return loop[::-1]


def _heads(edges: Iterable[Edge]) -> dict[int, list[int]]:
    heads: dict[int, list[int]] = {}
    for tail, head in sorted(edges):
        heads.setdefault(tail, []).append(head)
    return heads
