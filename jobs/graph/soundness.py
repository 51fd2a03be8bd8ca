"""What makes prerequisites unsound: a circle of jobs, or fixed lags that contradict each other (D14)."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from jobs.graph.data import Arc, Fixed, Relation

Choices = Mapping[int, Mapping[str, int]]
"""Of a job in branches: which branch of which group it belongs to, by group."""


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A ring of waits that no dates can meet. `minima` run forward along the ring, `maxima` back.

    From start to start the minima with the work between need `needed` minutes; the maxima allow `allowed`, less."""

    minima: tuple[Arc, ...]
    maxima: tuple[Arc, ...]
    needed: int
    allowed: int


def circle(links: Iterable[tuple[int, int]], new: Collection[tuple[int, int]] = ()) -> list[int] | None:
    """Jobs of a shortest circle through one of the `new` links (all links, if none are named), from its lowest id on;
    None if no link of `new` closes one. Linear in the links where there is no circle.

    >>> circle([(1, 2), (2, 3), (3, 1), (3, 4)])
    [1, 2, 3]
    """
    after: dict[int, list[int]] = defaultdict(list)
    for tail, head in links:
        after[tail].append(head)
    core = _core(after)
    for before, then in new or [(job, head) for job in sorted(core) for head in after[job]]:
        found = way(after, then, before, core) if before in core and then in core else None
        if found is not None:
            lowest = found.index(min(found))
            return found[lowest:] + found[:lowest]
    return None


def way(after: Mapping[int, Collection[int]], start: int, goal: int, within: Collection[int]) -> list[int] | None:
    """A shortest way from start to goal, both included, over jobs of `within`; None if there is none."""
    came = {start: start}
    queue = deque([start])
    while queue and goal not in came:
        job = queue.popleft()
        for next_job in after.get(job, ()):
            if next_job not in came and next_job in within:
                came[next_job] = job
                queue.append(next_job)
    if goal not in came:
        return None
    found = [goal]
    while found[-1] != start:
        found.append(came[found[-1]])
    return found[::-1]


def _core(after: Mapping[int, Collection[int]]) -> set[int]:
    """Jobs that are left when those without a predecessor, and then those without a successor, are taken away."""
    before: dict[int, list[int]] = defaultdict(list)
    for tail, heads in after.items():
        for head in heads:
            before[head].append(tail)
    core = {*after, *before}
    for forward, back in ((after, before), (before, after)):
        waiting = {job: sum(other in core for other in back.get(job, ())) for job in core}
        free = deque(job for job, count in waiting.items() if count == 0)
        while free:
            job = free.popleft()
            core.discard(job)
            for other in forward.get(job, ()):
                if other in waiting and other in core:
                    waiting[other] -= 1
                    if waiting[other] == 0:
                        free.append(other)
    return core


def contradiction(arcs: Iterable[Arc], durations: Mapping[int, int], choices: Choices) -> Contradiction | None:
    """Fixed lags that no dates can meet, or None.

    Looked for are rings of the constraints of D1, one set of branches at a time as in D10: of siblings only one is
    done, so no ring runs through two of them. Weather lags and minima that an observation confirms take no part.
    """
    steps: dict[int, list[tuple[int, int, Arc, bool]]] = defaultdict(list)
    for arc in arcs:
        a = durations[arc.tail] if arc.relation in (Relation.FINISH_START, Relation.FINISH_FINISH) else 0
        b = durations[arc.head] if arc.relation in (Relation.FINISH_FINISH, Relation.START_FINISH) else 0
        if isinstance(arc.minimum, Fixed) and not arc.confirm:
            steps[arc.tail].append((arc.head, a + arc.minimum.minutes - b, arc, False))
        if isinstance(arc.maximum, Fixed):
            steps[arc.head].append((arc.tail, b - a - arc.maximum.minutes, arc, True))
    for part in _strong_parts({tail: [step[0] for step in row] for tail, row in steps.items()}):
        for copy in _copies(part, choices):
            found = _rising_ring({job: [step for step in steps[job] if step[0] in copy] for job in sorted(copy)})
            if found is not None:
                minima = [step for step in found if not step[3]]
                maxima = [step for step in found if step[3]]
                return Contradiction(
                    tuple(step[2] for step in minima),
                    tuple(step[2] for step in maxima),
                    sum(step[1] for step in minima),
                    -sum(step[1] for step in maxima),
                )
    return None


def _copies(part: set[int], choices: Choices) -> Iterable[set[int]]:
    """The part with the lowest branch of every group, and once with each other branch of one group."""
    groups: dict[str, set[int]] = defaultdict(set)
    for job in part:
        for group, branch in choices.get(job, {}).items():
            groups[group].add(branch)
    reference = {group: min(branches) for group, branches in groups.items()}
    others = [{group: branch} for group in sorted(groups) for branch in sorted(groups[group])[1:]]
    for chosen in ({**reference, **other} for other in ({}, *others)):
        yield {job for job in part if all(chosen[group] == branch for group, branch in choices.get(job, {}).items())}


def _rising_ring(steps: Mapping[int, list[tuple[int, int, Arc, bool]]]) -> list[tuple[int, int, Arc, bool]] | None:
    """The steps of a ring whose weights sum above 0, by longest ways (Bellman-Ford), or None."""
    reached = dict.fromkeys(steps, 0)
    came: dict[int, tuple[int, tuple[int, int, Arc, bool]]] = {}
    moved = set(steps)
    while moved:
        again = set()
        for job in sorted(moved):
            for step in steps[job]:
                if reached[job] + step[1] > reached[step[0]]:
                    reached[step[0]] = reached[job] + step[1]
                    came[step[0]] = (job, step)
                    again.add(step[0])
        ring = _ring_of(came)
        if ring is not None:
            return ring
        moved = again
    return None


def _ring_of(came: Mapping[int, tuple[int, tuple[int, int, Arc, bool]]]) -> list[tuple[int, int, Arc, bool]] | None:
    """A ring among the last steps by which jobs were reached; there is one exactly if weights rise around it."""
    seen: set[int] = set()
    for start in came:
        path: dict[int, int] = {}
        job = start
        while job in came and job not in seen:
            seen.add(job)
            path[job] = len(path)
            job = came[job][0]
        if job in path:
            ring = [came[at][1] for at in list(path)[path[job] :]]
            return ring[::-1]
    return None


def _strong_parts(after: Mapping[int, Collection[int]]) -> list[set[int]]:
    """Sets of two jobs or more in which every job leads to every other (Kosaraju), by lowest id."""
    before: dict[int, list[int]] = defaultdict(list)
    for tail, heads in after.items():
        for head in heads:
            before[head].append(tail)
    order: list[int] = []
    seen: set[int] = set()
    for root in after:
        if root in seen:
            continue
        seen.add(root)
        stack = [(root, iter(after[root]))]
        while stack:
            job, rest = stack[-1]
            fresh = next((head for head in rest if head not in seen), None)
            if fresh is None:
                order.append(job)
                stack.pop()
            else:
                seen.add(fresh)
                stack.append((fresh, iter(after.get(fresh, ()))))
    parts: list[set[int]] = []
    placed: set[int] = set()
    for root in reversed(order):
        if root in placed:
            continue
        placed.add(root)
        part, stack_of = {root}, [root]
        while stack_of:
            for tail in before.get(stack_of.pop(), ()):
                if tail not in placed:
                    placed.add(tail)
                    part.add(tail)
                    stack_of.append(tail)
        if len(part) > 1:
            parts.append(part)
    return sorted(parts, key=min)
