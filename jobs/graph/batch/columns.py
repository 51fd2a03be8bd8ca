"""A whole holding as columns: one list or integer array per property of its jobs and of its arcs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from jobs.graph.batch.lags import Curves
from jobs.graph.components import connected_components, ties
from jobs.graph.data import FAR, NEG, Branch, Curve, DegreeDays, Fixed, Lag, Problem, Relation
from jobs.graph.network import Role, reported_ends, role_of

RELATIONS = tuple(Relation)
NO_LAG, FIXED, OTHER = -1, 0, -2
"""Kinds of a minimum: none, whole minutes, or one that the batch does not count; degree days are 1, 2, ...: the place
of their curve in `Columns.curves`, counted from 1."""


@dataclass(slots=True)
class Columns:
    """Jobs in the order of their ids, arcs in the order of theirs, every column a list or an int64 array.

    Of a job: `first` to `last` its one stretch [first, last) for work, `role` what facts make of it, `deadline` FAR
    where there is none, `component` a number that exactly the jobs tied together share. Of an arc: `relation` its place
    in RELATIONS, kind and amount of the minimum, `maximum` its minutes, FAR where there is none.

    What few have comes as columns of their own, beside the places that they are about: `standing` with four instants
    (see `reported_ends`), `branched` with the branch, `confirmed` with the instant of the observation that closes the
    minimum. `alone` are the places of jobs whose component is to be reckoned by itself, whatever it is; `part` gives
    the problem of some places of jobs, arcs and branches for that.
    """

    today: int
    job: Sequence[int]
    season: Sequence[int]
    component: Sequence[int]
    duration: Sequence[int]
    first: Sequence[int]
    last: Sequence[int]
    deadline: Sequence[int]
    role: Sequence[int]
    arc: Sequence[int]
    tail: Sequence[int]
    head: Sequence[int]
    relation: Sequence[int]
    minimum: Sequence[int]
    minimum_amount: Sequence[int]
    maximum: Sequence[int]
    standing: Sequence[int]
    start_early: Sequence[int]
    start_late: Sequence[int]
    finish_early: Sequence[int]
    finish_late: Sequence[int]
    branched: Sequence[int]
    branch: Sequence[int]
    confirmed: Sequence[int]
    confirmed_at: Sequence[int]
    branches: Sequence[Branch]
    curves: Sequence[Curve] | Curves
    part: Callable[[Sequence[int], Sequence[int], Sequence[int]], Problem]
    alone: Sequence[int] = field(default_factory=list)


JOB_COLUMNS = ("job", "season", "component", "duration", "first", "last", "deadline", "role")
ARC_COLUMNS = ("arc", "tail", "head", "relation", "minimum", "minimum_amount", "maximum")
FEW = (
    "standing", "start_early", "start_late", "finish_early", "finish_late", "branched", "branch", "confirmed",
    "confirmed_at", "alone",
)  # fmt: skip


def columns_of(problem: Problem) -> Columns:
    """The columns of a problem. Raises ValueError if an arc or job names what is not there."""
    nodes = sorted(problem.nodes, key=lambda node: node.id)
    arcs = sorted(problem.arcs, key=lambda arc: arc.id)
    branches = sorted(problem.branches, key=lambda branch: branch.id)
    component = connected_components([node.id for node in nodes], ties(nodes, arcs, branches))
    for arc in arcs:
        for end in (arc.tail, arc.head):
            if end not in component:
                raise ValueError(f"Prerequisite {arc.id} names job {end}, which is not among the jobs given.")
    known = {branch.id for branch in branches}
    roles = [role_of(node) for node in nodes]
    standing = [k for k, role in enumerate(roles) if role > Role.RELAY]
    ends = [reported_ends(nodes[k], roles[k], problem.today) for k in standing]
    branched = [k for k, node in enumerate(nodes) if node.branch is not None]
    confirmed = [k for k, arc in enumerate(arcs) if arc.confirm and arc.confirmed_at is not None]
    for node in nodes:
        if node.branch is not None and node.branch not in known:
            raise ValueError(f"Job {node.id} lies in branch {node.branch}, which is not among those given.")
    curves = {number: place for place, number in enumerate((k for k in problem.curves if len(problem.curves[k])), 1)}
    lows = [_lag(arc.minimum, curves) for arc in arcs]
    highs = [_lag(arc.maximum, curves, longest=True) for arc in arcs]
    places = {node.id: place for place, node in enumerate(nodes)}

    def part(jobs: Iterable[int], links: Iterable[int], groups: Iterable[int]) -> Problem:
        return replace(
            problem,
            nodes=tuple(nodes[k] for k in jobs),
            arcs=tuple(arcs[k] for k in links),
            branches=tuple(branches[k] for k in groups),
        )

    return Columns(
        problem.today,
        [node.id for node in nodes],
        [node.season for node in nodes],
        list(component.values()),
        [node.duration for node in nodes],
        [node.spans[0][0] if node.spans else FAR for node in nodes],
        [node.spans[-1][1] if node.spans else NEG for node in nodes],
        [FAR if node.deadline is None else node.deadline for node in nodes],
        [int(role) for role in roles],
        [arc.id for arc in arcs],
        [arc.tail for arc in arcs],
        [arc.head for arc in arcs],
        [_PLACES[arc.relation] for arc in arcs],
        [low[0] for low in lows],
        [low[1] for low in lows],
        [high[1] if high[0] == FIXED else FAR for high in highs],
        standing,
        [start.early for start, _ in ends],
        [start.late for start, _ in ends],
        [finish.early for _, finish in ends],
        [finish.late for _, finish in ends],
        branched,
        [nodes[k].branch or 0 for k in branched],
        confirmed,
        [arcs[k].confirmed_at or 0 for k in confirmed],
        branches,
        [problem.curves[number] for number in curves],
        part,
        [
            *(k for k, node in enumerate(nodes) if len(node.spans) > 1),
            *(places[arc.tail] for arc, low, high in zip(arcs, lows, highs, strict=True) if OTHER in (low[0], high[0])),
        ],
    )


_PLACES = {relation: place for place, relation in enumerate(RELATIONS)}


def _lag(lag: Lag | None, curves: Mapping[int, int], *, longest: bool = False) -> tuple[int, int]:
    if lag is None:
        return NO_LAG, 0
    if isinstance(lag, Fixed):
        return FIXED, lag.minutes
    if isinstance(lag, DegreeDays) and lag.curve in curves and not longest:
        return curves[lag.curve], max(lag.hundredths, 0)
    return OTHER, 0
