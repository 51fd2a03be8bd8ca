"""Alternatives and conditions: which copies are reckoned, and the schedule they make (D10, D11)."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from jobs.graph.arcs import saturated
from jobs.graph.branches import Choices, Group
from jobs.graph.components import connected_components, members, ties
from jobs.graph.data import FAR, NEG, Arc, BranchState, Cause, Dates, Node, Problem, Schedule, Why
from jobs.graph.network import Network, Role
from jobs.graph.solve import Solution, copy_of, solve

NO_REASON = Why(Cause.NONE)


def schedule(problem: Problem) -> Schedule:
    """The dates of every job and the state of every branch.

    Jobs of a dead branch have no dates: es and ls are FAR. What hangs together is reckoned by itself, so that a part
    alone gives the dates that it has in the whole; the least slack that makes a job critical is that of the season's
    jobs in the same part and copy. Equal input in another order gives equal output (D18).

    Raises CycleError if minimal lags run in a circle, ValueError if an arc, job or branch names what is not there.
    """
    choices = Choices(problem.branches, problem.nodes)
    component = connected_components(choices.nodes, ties(problem.nodes, problem.arcs, problem.branches))
    arcs: dict[int, list[Arc]] = {}
    for arc in problem.arcs:
        missing = next((end for end in (arc.tail, arc.head) if end not in component), None)
        if missing is not None:
            raise ValueError(f"Prerequisite {arc.id} names job {missing}, which is not among the jobs given.")
        arcs.setdefault(component[arc.tail], []).append(arc)
    branches: dict[int, list[int]] = {}
    for number, jobs in choices.jobs.items():
        if jobs:
            branches.setdefault(component[jobs[0]], []).append(number)
    conflicts = choices.conflicts()
    dates: dict[int, Dates] = {}
    for label, jobs in members(component).items():
        nodes = [choices.nodes[job] for job in jobs]
        part = Part(problem, choices, nodes, arcs.get(label, []), branches.get(label, []))
        dates.update(part.dates(conflicts))
    return Schedule(dict(sorted(dates.items())), choices.states)


@dataclass(frozen=True, slots=True)
class Take:
    """Which branches a copy takes: of each group those `chosen`, and the outcomes that bring the branches `assumed`."""

    chosen: Mapping[Group, frozenset[int]]
    assumed: frozenset[int] = frozenset()


class Part:
    """One component with its copies; a copy is solved once, and only if it is asked for."""

    def __init__(
        self, problem: Problem, choices: Choices, nodes: Sequence[Node], arcs: Sequence[Arc], branches: Sequence[int]
    ) -> None:
        self.choices, self.nodes, self.branches = choices, nodes, branches
        self.closed = [number for number in branches if choices.alone[number] is BranchState.NOT_CALLED_FOR]
        openings = [
            (check, job)
            for number in self.closed
            if (check := choices.by_id[number].opened_by) in choices.nodes and check is not None
            for job in choices.jobs[number]
            if job != check
        ]
        self.net = Network(nodes, arcs, problem.curves, problem.today, openings)
        self.solutions: dict[frozenset[int], Solution] = {}
        self.heads: dict[int, list[int]] = {}
        if branches:
            for arc in arcs:
                self.heads.setdefault(arc.tail, []).append(arc.head)

    def dates(self, conflicts: Collection[int]) -> dict[int, Dates]:
        """Dates by job id; `conflicts` are jobs to be marked as such."""
        reference = self._reference()
        solution = self._solve(reference)
        copies = {number: self._solve(self._with(reference, number)) for number in self._off(reference)}
        every = list({id(copy): copy for copy in (solution, *copies.values())}.values())
        least = {id(copy): _least_slack(self.net, self.nodes, copy) for copy in every}
        look_by = self._look_by(copies)
        found = {}
        for v, node in enumerate(self.nodes):
            copy = solution if node.branch is None else copies.get(node.branch, solution)
            if not copy.active[v]:
                found[node.id] = _no_dates(node.id, node.id in conflicts)
                continue
            es, ls, role = copy.es[v], copy.ls[v], self.net.role[v]
            slack = slack_of(es, ls)
            found[node.id] = Dates(
                node.id,
                es,
                self.net.finish[v] if role > Role.RELAY else saturated(es + self.net.duration[v]),
                ls,
                saturated(ls + self.net.duration[v]),
                slack,
                role in (Role.OPEN, Role.UNDER_WAY) and slack == least[id(copy)].get(node.season),
                copy.why_es[v],
                copy.why_ls[v],
                ls if len(every) == 1 else max(other.ls[v] for other in every if other.active[v]),
                look_by.get(node.id),
                v in copy.contradictory,
                node.id in conflicts,
                tuple(self.net.out_of_order.get(v, ())),
                copy is solution,
            )
        return found

    def _solve(self, take: Take) -> Solution:
        taken = self._taken(take)
        if taken not in self.solutions:
            active = None
            if self.branches:
                active = [
                    node.branch is None or node.branch in taken or role is Role.DONE
                    for node, role in zip(self.nodes, self.net.role, strict=True)
                ]
            self.solutions[taken] = solve(copy_of(self.net, active))
        return self.solutions[taken]

    def _taken(self, take: Take) -> frozenset[int]:
        choices = self.choices
        refused = {
            other
            for number in take.assumed
            for other in self.branches
            if other in choices.unknown
            and choices.by_id[other].opened_by == choices.by_id[number].opened_by
            and not choices.by_id[other].outcomes & choices.by_id[number].outcomes
        }
        known: dict[int, bool] = {}

        def taken(number: int) -> bool:
            if number not in known:
                known[number] = False
                group, alone = choices.group_of(number), choices.alone[number]
                known[number] = (
                    alone is not BranchState.DEAD
                    and (alone is not BranchState.NOT_CALLED_FOR or number in take.assumed)
                    and (number not in refused or number in choices.begun)
                    and (group is None or number in take.chosen.get(group, ()))
                    and all(taken(host) for host in choices.hosts(number))
                )
            return known[number]

        return frozenset(number for number in self.branches if taken(number))

    def _reference(self) -> Take:
        """Of each group the branches that were begun, else the first in the manager's order in which neither a job nor
        a successor has lapsed, else the first. Groups are decided from the outside in, each with those before it as
        decided and those after it at their first."""
        choices = self.choices
        here = set(self.branches)
        candidates = {
            group: [number for number in numbers if choices.alone[number] is BranchState.OPEN]
            for group, numbers in choices.groups.items()
            if here.intersection(numbers)
        }
        take = Take(
            {
                group: frozenset(choices.begun.intersection(choices.groups[group])) or frozenset(listed[:1])
                for group, listed in candidates.items()
            }
        )
        for group in sorted(candidates, key=lambda group: (self._depth(group), min(choices.groups[group]))):
            listed = candidates[group]
            if len(listed) < 2 or choices.begun.intersection(choices.groups[group]):
                continue
            fits = (number for number in listed if not self._lapsed(self._with(take, number), number))
            first = next(fits, listed[0])
            take = replace(take, chosen={**take.chosen, group: frozenset({first})})
        return take

    def _depth(self, group: Group) -> int:
        return min(self.choices.depth(number) for number in self.choices.groups[group])

    def _with(self, take: Take, number: int) -> Take:
        """The copy that takes a branch, and what that branch cannot be without, instead of their siblings."""
        choices = self.choices
        chosen, assumed = dict(take.chosen), set(take.assumed)
        waiting, seen = [number], set()
        while waiting:
            here = waiting.pop()
            if here in seen:
                continue
            seen.add(here)
            group = choices.group_of(here)
            if group is not None and here not in chosen.get(group, ()):
                chosen[group] = frozenset({here})
            if choices.alone[here] is BranchState.NOT_CALLED_FOR:
                assumed.add(here)
            waiting += choices.hosts(here)
        return Take(chosen, frozenset(assumed))

    def _off(self, reference: Take) -> list[int]:
        """Branches that are alive but not taken by the reference copy."""
        taken = self._taken(reference)
        return [
            number
            for number in self.branches
            if number not in taken and self.choices.states[number] is not BranchState.DEAD
        ]

    def _lapsed(self, take: Take, number: int) -> bool:
        """A job of the branch, or a successor of one, has lapsed in the copy (D13); what is under way has not (D15)."""
        copy = self._solve(take)
        jobs = self.choices.jobs[number]
        for job in {*jobs, *(head for tail in jobs for head in self.heads.get(tail, ()))}:
            v = self.net.position[job]
            if copy.active[v] and self.net.role[v] is Role.OPEN and copy.ls[v] < copy.es[v]:
                return True
        return False

    def _look_by(self, copies: Mapping[int, Solution]) -> dict[int, int]:
        """By check: the latest start that leaves every branch in time which is not called for yet (D11)."""
        found: dict[int, int] = {}
        for number in self.closed:
            check = self.choices.by_id[number].opened_by
            if number not in copies or check not in self.net.position or check is None:
                continue
            v = self.net.position[check]
            if self.net.role[v] in (Role.OPEN, Role.UNDER_WAY) and copies[number].ls[v] < FAR:
                found[check] = min(copies[number].ls[v], found.get(check, FAR))
        return found


def slack_of(es: int, ls: int) -> int:
    """Minutes between; FAR without deadline, NEG where either end cannot be met (D12)."""
    if ls >= FAR:
        return FAR
    return NEG if ls <= NEG or es >= FAR else saturated(ls - es)


def _least_slack(net: Network, nodes: Sequence[Node], copy: Solution) -> dict[int, int]:
    """The least finite slack by season among the jobs still to be finished."""
    least: dict[int, int] = {}
    for v, node in enumerate(nodes):
        if copy.active[v] and net.role[v] in (Role.OPEN, Role.UNDER_WAY):
            slack = slack_of(copy.es[v], copy.ls[v])
            if NEG < slack < FAR and slack < least.get(node.season, FAR):
                least[node.season] = slack
    return least


def _no_dates(job: int, conflict: bool) -> Dates:
    return Dates(job, FAR, FAR, FAR, FAR, FAR, False, NO_REASON, NO_REASON, FAR, conflict=conflict, on_reference=False)
