"""What set each date of many copies at once (D12): the whole-holding form of `jobs.graph.reasons`."""

from __future__ import annotations

import numpy as np

from jobs.graph.batch.copies import Instances
from jobs.graph.batch.lags import Ints
from jobs.graph.batch.passes import Bools, Bounds, Pass
from jobs.graph.batch.table import Floors
from jobs.graph.data import FAR, NEG, Cause
from jobs.graph.network import Role

CAUSES = (Cause.TODAY, Cause.SPAN, Cause.FACT, Cause.DEADLINE, Cause.ARC, Cause.NONE)
TODAY, SPAN, FACT, DEADLINE, ARC, NONE = range(6)

Reasons = tuple[Ints, Ints, Ints]
"""(cause, place of the arc, copies with a circle of reasons that has to be opened)."""


def of_earliest(here: Instances, run: Pass, floors: Floors, es: Ints) -> Reasons:
    """Why each instance cannot start sooner."""
    table, job = here.table, here.job
    role = here.role
    ahead = (es > table.today) | (table.first[job] == es)
    cause = np.where(role == Role.OPEN, np.where(ahead, SPAN, TODAY), np.where(role == Role.RELAY, NONE, FACT))
    tight = floors.instant == es[floors.head]
    found = [(floors.arc[tight], floors.head[tight])]
    for bounds in (run.fixed, run.curved):
        tight = bounds.head_not_before(run.curves, es[bounds.tail]) == es[bounds.head]
        found.append((bounds.arc[tight], bounds.head[tight]))
    start = es[run.pulls.head]
    tight = (np.abs(start) < FAR) & (start + run.pulls.weight == es[run.pulls.tail])
    pulled = run.pulls.arc[tight], run.pulls.tail[tight]
    return _lowest(here, cause, found, pulled, es != NEG)


def of_latest(here: Instances, run: Pass, ceilings: Floors, trailing: Bounds, ls: Ints) -> Reasons:
    """Why each instance must start by its latest start."""
    table, job = here.table, here.job
    role = here.role
    free = (ls >= FAR) | (role == Role.RELAY)
    own = np.where(ls == table.deadline[job], DEADLINE, SPAN)
    cause = np.where(role >= Role.SATISFIED, FACT, np.where(free, NONE, own))
    limited = ceilings.instant == ls[ceilings.head]
    found = [(ceilings.arc[limited], ceilings.head[limited])]
    for bounds in (run.fixed, run.curved, trailing):
        tight = bounds.tail_not_after(run.curves, ls[bounds.head]) == ls[bounds.tail]
        found.append((bounds.arc[tight], bounds.tail[tight]))
    start = ls[run.pulls.tail]
    tight = (np.abs(start) < FAR) & (start - run.pulls.weight == ls[run.pulls.head])
    pulled = run.pulls.arc[tight], run.pulls.head[tight]
    cause, lowest, circles = _lowest(here, cause, found, pulled, ls != FAR)
    # What is under way may be late by a successor that it holds itself: where both occur, the plain lists decide.
    late = here.copy[(role == Role.UNDER_WAY) & (cause == ARC)]
    return cause, lowest, np.union1d(circles, np.intersect1d(late, here.copy[ceilings.head[limited]]))


def _lowest(
    here: Instances, cause: Ints, found: list[tuple[Ints, Ints]], pulled: tuple[Ints, Ints], bound: Bools
) -> Reasons:
    """The lowest arc that gives the very date, of (arc, instance); arcs stand in the order of their ids."""
    nothing = len(here.table.arc)
    lowest = np.full(len(cause), nothing)
    for arc, instance in (*found, pulled):
        np.minimum.at(lowest, instance, arc)
    lowest[~bound] = nothing
    arc, instance = pulled
    circles = _circles(here, lowest, instance[lowest[instance] == arc])
    chosen = (lowest < nothing) & (here.role <= Role.UNDER_WAY)
    return np.where(chosen, ARC, cause), np.where(chosen, lowest, nothing), circles


def _circles(here: Instances, lowest: Ints, backward: Ints) -> Ints:
    """Copies with a circle of reasons, which one of its jobs has to open.

    Minimal lags run in no circle, so each has an instance that a maximal lag holds `backward`: from there the reasons
    are followed, from one end of the arc to the other, until they end or return."""
    table = here.table
    circles = [here.copy[:0]]
    start = at = backward
    for _ in range(int(np.bincount(here.copy, minlength=1).max())):
        arc, job = lowest[at], here.job[at]
        other = table.tail[arc] + table.head[arc] - job
        at = here.instance(other, here.copy[at] - here.first_copy[table.component[job]])
        closed = at == start
        circles.append(here.copy[at[closed]])
        left = (lowest[at] < len(table.arc)) & ~closed
        start, at = start[left], at[left]
        if not len(at):
            break
    return np.unique(np.concatenate(circles))
