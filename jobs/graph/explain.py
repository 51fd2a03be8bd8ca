"""Why a date is what it is, and what is left to do when it is too late (D12, D13)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from jobs.graph.data import FAR, NEG, Arc, Branch, BranchState, Cause, Dates, Problem, Schedule, Why


@dataclass(frozen=True, slots=True)
class Way:
    """One way out (D13). `kind` and `id`: "branch" and an open branch that is still in time; "outcome" and a branch
    still in time that an outcome of a check could open; "lag" and the arc of a wait that rests on common practice,
    with `change_min`, the minutes by which its minimum would have to be shorter or its maximum longer (None: no number
    of minutes would do)."""

    kind: str
    id: int
    change_min: int | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """Why a job is too late (D13).

    `jobs` are those on the chain from its source over `job` to its sink, `chain` the arcs between them. `short_by` are
    minutes, FAR where there is no date at all. `broken` is the arc that leaves the last fact on the chain; None says
    that the source is the clock or a season: the job was not begun by its latest start.
    """

    job: int
    jobs: tuple[int, ...]
    chain: tuple[int, ...]
    short_by: int
    broken: int | None
    ways_out: tuple[Way, ...]


def chain(schedule: Schedule, problem: Problem, job: int) -> list[int]:
    """The arcs behind the earliest start of a job, from its source to the job (D12); empty if no arc set it."""
    arcs = {arc.id: arc for arc in problem.arcs}
    return _follow({number: dates.why_es for number, dates in schedule.dates.items()}, arcs, job)[1][::-1]


def finding(schedule: Schedule, problem: Problem, job: int, now: int) -> Finding | None:
    """What makes a job too late at `now`, or None if its latest start is not before its earliest and not past."""
    dates = schedule.dates[job]
    start = max(dates.es, now)
    if dates.ls >= FAR or dates.ls >= start:
        return None
    arcs = {arc.id: arc for arc in problem.arcs}
    before, links = _follow({number: row.why_es for number, row in schedule.dates.items()}, arcs, job)
    after, further = _follow({number: row.why_ls for number, row in schedule.dates.items()}, arcs, job)
    jobs, way = [*before[::-1], *after[1:]], [*links[::-1], *further]
    fact = schedule.dates[jobs[0]].why_es.cause is Cause.FACT
    short_by = FAR if start >= FAR or dates.ls <= NEG else start - dates.ls
    ways = [
        *_branches_left(schedule, problem, job, now),
        *(Way("lag", number, short_by if short_by < FAR else None) for number in sorted(set(way)) if arcs[number].soft),
    ]
    return Finding(job, tuple(jobs), tuple(way), short_by, way[0] if fact and way else None, tuple(ways))


def _follow(reasons: Mapping[int, Why], arcs: Mapping[int, Arc], job: int) -> tuple[list[int], list[int]]:
    """Jobs and arcs from a job along the reasons to their source."""
    jobs, links = [job], []
    while (why := reasons[jobs[-1]]).cause is Cause.ARC and why.arc is not None:
        arc = arcs[why.arc]
        other = arc.tail if arc.head == jobs[-1] else arc.head
        if other in jobs:
            break
        links.append(arc.id)
        jobs.append(other)
    return jobs, links


def _branches_left(schedule: Schedule, problem: Problem, job: int, now: int) -> Iterator[Way]:
    """Branches of the job's season, off the reference, all of whose jobs are still in time."""
    nodes = {node.id: node for node in problem.nodes}
    jobs: dict[int, list[Dates]] = {}
    for node in sorted(problem.nodes, key=lambda node: node.id):
        if node.branch is not None and node.finished is None:
            jobs.setdefault(node.branch, []).append(schedule.dates[node.id])
    for branch in sorted(problem.branches, key=lambda branch: (branch.order, branch.id)):
        rows = jobs.get(branch.id, [])
        if branch.season == nodes[job].season and _left(rows, now) and not any(row.job == job for row in rows):
            state = schedule.branches[branch.id]
            if state is BranchState.OPEN:
                yield Way("branch", branch.id)
            elif state is BranchState.NOT_CALLED_FOR and _could_open(branch, problem):
                yield Way("outcome", branch.id)


def _left(rows: Sequence[Dates], now: int) -> bool:
    return bool(rows) and all(not row.on_reference and row.slack >= 0 and row.ls >= now for row in rows)


def _could_open(branch: Branch, problem: Problem) -> bool:
    return any(node.id == branch.opened_by and node.finished is None for node in problem.nodes)
