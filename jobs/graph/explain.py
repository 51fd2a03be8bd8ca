"""Why a date is what it is, and what is left to do when it is too late (D12, D13)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter

from jobs.graph.components import connected_components, ties
from jobs.graph.data import FAR, NEG, Branch, BranchState, Cause, Dates, Problem, Schedule, Why


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


class Explainer:
    """What stands behind the dates of one schedule: built once, asked job by job."""

    def __init__(self, schedule: Schedule, problem: Problem) -> None:
        self.schedule, self.problem = schedule, problem
        self.arcs = {arc.id: arc for arc in problem.arcs}
        self.nodes = {node.id: node for node in problem.nodes}
        self.inside: dict[int, list[int]] = {}
        for number in sorted(self.nodes):
            node = self.nodes[number]
            if node.branch is not None and node.finished is None:
                self.inside.setdefault(node.branch, []).append(number)
        self.branches: dict[int, list[Branch]] = {}
        for branch in sorted(problem.branches, key=lambda branch: (branch.order, branch.id)):
            self.branches.setdefault(branch.season, []).append(branch)

    @cached_property
    def component(self) -> Mapping[int, int]:
        return connected_components(self.nodes, ties(self.problem.nodes, self.problem.arcs, self.problem.branches))

    def chain(self, job: int) -> list[int]:
        """The arcs behind the earliest start of a job, from its source to the job (D12); empty if no arc set it."""
        return self._follow(job, _why_es)[1][::-1]

    def finding(self, job: int, now: int) -> Finding | None:
        """What makes a job too late at `now`, or None if its latest start is not before its earliest and not past."""
        dates = self.schedule.dates[job]
        start = max(dates.es, now)
        if dates.ls >= FAR or dates.ls >= start:
            return None
        before, links = self._follow(job, _why_es)
        after, further = self._follow(job, _why_ls)
        jobs, way = [*before[::-1], *after[1:]], [*links[::-1], *further]
        fact = self.schedule.dates[jobs[0]].why_es.cause is Cause.FACT
        short_by = FAR if start >= FAR or dates.ls <= NEG else start - dates.ls
        soft = [number for number in sorted(set(way)) if self.arcs[number].soft]
        ways = [
            *self._branches_left(job, now),
            *(Way("lag", number, short_by if short_by < FAR else None) for number in soft),
        ]
        return Finding(job, tuple(jobs), tuple(way), short_by, way[0] if fact and way else None, tuple(ways))

    def _follow(self, job: int, why_of: Callable[[Dates], Why]) -> tuple[list[int], list[int]]:
        """Jobs and arcs from a job along the reasons to their source."""
        dates = self.schedule.dates
        jobs, links = [job], []
        while (why := why_of(dates[jobs[-1]])).cause is Cause.ARC and why.arc is not None:
            arc = self.arcs[why.arc]
            other = arc.tail if arc.head == jobs[-1] else arc.head
            if other in jobs:
                break
            links.append(arc.id)
            jobs.append(other)
        return jobs, links

    def _branches_left(self, job: int, now: int) -> Iterator[Way]:
        """Branches of the job's season, off the reference, all of whose jobs are still in time.

        Those that nothing ties to the job are no way out of its trouble, so that a part alone gives what the whole
        gives (D18)."""
        for branch in self.branches.get(self.nodes[job].season, ()):
            inside = self.inside.get(branch.id, ())
            if not inside or self.component[inside[0]] != self.component[job]:
                continue
            if job not in inside and _left([self.schedule.dates[number] for number in inside], now):
                state = self.schedule.branches[branch.id]
                if state is BranchState.OPEN:
                    yield Way("branch", branch.id)
                elif state is BranchState.NOT_CALLED_FOR and self._could_open(branch):
                    yield Way("outcome", branch.id)

    def _could_open(self, branch: Branch) -> bool:
        check = None if branch.opened_by is None else self.nodes.get(branch.opened_by)
        return check is not None and check.finished is None


def chain(schedule: Schedule, problem: Problem, job: int) -> list[int]:
    """`Explainer.chain` for one job alone."""
    return Explainer(schedule, problem).chain(job)


def finding(schedule: Schedule, problem: Problem, job: int, now: int) -> Finding | None:
    """`Explainer.finding` for one job alone."""
    return Explainer(schedule, problem).finding(job, now)


_why_es, _why_ls = attrgetter("why_es"), attrgetter("why_ls")


def _left(rows: Sequence[Dates], now: int) -> bool:
    return bool(rows) and all(not row.on_reference and row.slack >= 0 and row.ls >= now for row in rows)
