"""Which copies of a component are reckoned, where one group of alternatives is all that it chooses among (D10).

Copies are numbered within their component; number 0 takes the branches that were begun, else the first in the
manager's order. Whatever is nested, waits for an outcome or has more than one group is left to `Part`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from jobs.graph.arcs import KNOWN
from jobs.graph.batch.lags import Ints
from jobs.graph.batch.passes import Bools, Bounds, Pass
from jobs.graph.batch.table import Floors, Table
from jobs.graph.data import Branch, BranchState
from jobs.graph.network import Role

EVERYWHERE, NOWHERE = -1, -2


@dataclass(slots=True)
class Alternatives:
    """`home` says of every job in which copy of its component it is; `copies` how many a component has. `candidates`
    are the branches among which the reference is still to be chosen, by component in the manager's order."""

    home: Ints
    copies: Ints
    place: dict[int, int] = field(default_factory=dict)
    of_job: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    states: dict[int, BranchState] = field(default_factory=dict)
    candidates: dict[int, list[int]] = field(default_factory=dict)
    conflicts: set[int] = field(default_factory=set)
    component: Ints = field(default_factory=lambda: np.zeros(0, np.int64))


def alternatives(table: Table, branches: Sequence[Branch]) -> Alternatives:
    """Read the branches; marks as `alone` in the table whatever has more than one simple group."""
    found = Alternatives(np.full(table.count, EVERYWHERE), np.ones(int(table.component.max(initial=-1)) + 1, np.int64))
    if not branches:
        return found
    found.place = {branch.id: k for k, branch in enumerate(branches)}
    ids = np.array(sorted(found.place), np.int64)
    order = np.array([found.place[number] for number in ids.tolist()], np.int64)
    inside = table.branched
    found.of_job = np.full(table.count, -1)
    found.of_job[inside] = order[np.searchsorted(ids, table.branch)]
    count = len(branches)
    owner = found.of_job[inside]
    found.component = component = np.full(count, -1)
    component[owner] = table.component[inside]
    role = table.role[inside]
    reported = np.bincount(owner[(role == Role.UNDER_WAY) | (role == Role.DONE)], minlength=count) > 0
    any_done = np.bincount(owner[role == Role.DONE], minlength=count) > 0
    unfinished = np.bincount(owner[(role == Role.OPEN) | (role == Role.UNDER_WAY)], minlength=count) > 0
    begun = reported & ~np.array([branch.called_off for branch in branches])
    done = begun & any_done & ~unfinished
    groups: dict[tuple[int, str], list[int]] = {}
    simple = component >= 0
    for k, branch in enumerate(branches):
        if branch.group is None or branch.parent is not None or branch.opened_by is not None:
            simple[k] = False
        if branch.group is not None:
            groups.setdefault((branch.season, branch.group), []).append(k)
    openers = np.array([branch.opened_by for branch in branches if branch.opened_by is not None], np.int64)
    table.alone[np.isin(table.job, openers)] = True
    parents = {found.place[branch.parent] for branch in branches if branch.parent in found.place}
    simple[sorted(parents)] = False
    several: dict[int, int] = {}
    plain, labels = simple.tolist(), component.tolist()
    for members in groups.values():
        if not all(plain[k] for k in members):
            simple[members] = False
        for number in {labels[k] for k in members}:
            several[number] = several.get(number, 0) + 1
    for number in np.unique(component[~simple]).tolist():
        several[number] = 2
    alone = np.array([several.get(number, 1) > 1 for number in labels])
    if alone.any():
        bad = np.zeros(len(found.copies) + 1, bool)
        bad[component[alone]] = True
        table.alone |= bad[table.component]
    left = np.zeros(len(found.copies) + 1, bool)
    left[table.component[table.alone]] = True
    left[-1] = True
    homes = [NOWHERE] * count
    facts = begun.tolist(), done.tolist(), labels
    leaves = left.tolist()
    for members in groups.values():
        if not leaves[labels[members[0]]]:
            _group(found, branches, members, homes, *facts)
    found.home[inside] = np.where(role == Role.DONE, EVERYWHERE, np.array(homes, np.int64)[owner])
    clash = np.zeros(count, bool)
    clash[sorted(found.conflicts)] = True
    found.conflicts = set(inside[clash[owner]].tolist())
    return found


def _group(
    found: Alternatives,
    branches: Sequence[Branch],
    members: list[int],
    homes: list[int],
    begun: list[bool],
    done: list[bool],
    component: list[int],
) -> None:
    members.sort(key=lambda k: (branches[k].order, branches[k].id))
    chosen = [k for k in members if begun[k]]
    finished = [k for k in members if done[k]]
    if len(finished) > 1:
        found.conflicts.update(finished)
    waiting = []
    for k in members:
        if branches[k].called_off:
            state = BranchState.DEAD
        elif begun[k]:
            state = BranchState.CHOSEN
        elif finished:
            state = BranchState.DEAD
        else:
            state = BranchState.PAUSED if chosen else BranchState.OPEN
            waiting.append(k)
        found.states[branches[k].id] = state
    for k in chosen:
        homes[k] = 0
    for number, k in enumerate(waiting, bool(chosen)):
        homes[k] = number
    if len(waiting) + bool(chosen) > 1:
        found.copies[component[members[0]]] = len(waiting) + bool(chosen)
    if len(waiting) > 1 and not chosen:
        found.candidates[component[members[0]]] = waiting


class Instances:
    """The jobs of every copy in the order of their levels, and the bounds between them.

    `job` is the place of an instance's job, `copy` the number of its copy over all; `times` says how often a job is
    there, `rank[offset[j] + k]` where job j of copy k of its component stands, the last of `rank` one past all."""

    def __init__(self, table: Table, choices: Alternatives) -> None:
        self.table, self.choices = table, choices
        left = np.zeros(len(choices.copies) + 1, bool)
        left[table.component[table.alone]] = True
        copies = choices.copies.copy()
        copies[left[:-1]] = 0
        self.copies, self.first_copy = copies, np.concatenate([[0], np.cumsum(copies)])
        home = choices.home
        self.here = here = copies[table.component]
        self.times = np.where(home == EVERYWHERE, here, np.where(home == NOWHERE, 0, np.minimum(here, 1)))
        after = np.cumsum(self.times)
        # A job that is in one copy only stands at its start, whatever the number of that copy.
        self.offset = after - self.times - np.maximum(home, 0)
        base = np.repeat(np.arange(table.count), self.times)
        copy = self.first_copy[table.component[base]] + np.arange(len(base)) - self.offset[base]
        level = table.level[base]
        order = np.argsort(level.astype(np.int16) if level.max(initial=0) < 2**15 else level, kind="stable")
        self.rank = np.full(len(base) + 1, len(base))
        self.rank[order] = np.arange(len(base))
        self.job, self.copy, self.level = base[order], copy[order], level[order]
        self.role = table.role[self.job]
        self.ends = np.searchsorted(self.level, np.arange(int(level.max(initial=0)) + 1), "right").tolist()

    def components_of(self, copies: Ints) -> Ints:
        return np.searchsorted(self.first_copy, copies, "right") - 1

    def instance(self, job: Ints, number: Ints) -> Ints:
        """Place of a job's instance in the copy of that number in its component; the job must be in it."""
        return self.rank.take(self.offset.take(job) + number)

    def instance_or_end(self, there: Bools, number: Ints) -> Ints:
        """The same for every job in the order of places, one past all instances where a job is not there."""
        return self.rank[np.where(there, self.offset + number, -1)]

    def copies_of(self, tail: Ints, head: Ints) -> tuple[Ints, Ints]:
        """(index, number): each pair of jobs as often as both ends are in one copy, with that copy's number."""
        one, other = self.choices.home[tail], self.choices.home[head]
        lower, fixed = np.minimum(one, other), np.maximum(one, other)
        here = self.here[head]
        times = np.where(fixed == EVERYWHERE, here, np.minimum(here, 1))
        times[(lower == NOWHERE) | (lower >= 0) & (lower != fixed)] = 0
        index = np.repeat(np.arange(len(tail)), times)
        number = np.arange(len(index)) - (np.cumsum(times) - times)[index]
        return index, np.maximum(number, fixed[index])

    def bounds(self, bounds: Bounds) -> Bounds:
        index, number = self.copies_of(bounds.tail, bounds.head)
        found = bounds.of(index)
        found.tail, found.head = self.instance(found.tail, number), self.instance(found.head, number)
        return found

    def floors(self, floors: Floors) -> Floors:
        """A floor binds in each copy that has both ends."""
        index, number = self.copies_of(self.table.tail[floors.arc], floors.head)
        return Floors(floors.arc[index], self.instance(floors.head[index], number), floors.instant[index])

    def passes(self, floors: Floors, ceilings: Floors) -> Pass:
        table, job = self.table, self.job
        low, top = table.low[job], table.top[job]
        np.maximum.at(low, floors.head, floors.instant)
        np.minimum.at(top, ceilings.head, ceilings.instant)
        levels = np.arange(1, len(self.ends) + 1)

        def leveled(bounds: Bounds) -> tuple[Bounds, list[int]]:
            found = self.bounds(bounds)
            level = self.level[found.head].astype(np.int16)
            order = np.argsort(level, kind="stable")
            return found.of(order), np.searchsorted(level[order], levels, "left").tolist()

        fixed, cuts = leveled(table.fixed)
        bent, bends = leveled(table.curved)
        pulls = self.bounds(table.maximal)
        first, last = np.maximum(table.first, 1 - KNOWN)[job], np.minimum(table.last, KNOWN - 1)[job]
        return Pass(
            table.curves, self.copy, low, top, first, last, self.ends, fixed, cuts, bent, bends, pulls
        )  # fmt: skip
