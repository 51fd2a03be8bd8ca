"""What facts make of every branch: chosen, dead, paused, not called for or open (D10, D11)."""

from __future__ import annotations

from collections.abc import Iterable

from jobs.graph.data import Branch, BranchState, Node
from jobs.graph.network import REPORTED, Role, role_of

Group = tuple[int, str]
"""A season and the name of a group of alternatives in it."""

OUT = frozenset({BranchState.DEAD, BranchState.NOT_CALLED_FOR, BranchState.PAUSED})
"""States of a nested branch in which nothing of it is left to do before the branch around it is done."""


class Choices:
    """The branches of some jobs with what facts say of them, all by branch id, in the order of ids.

    `alone` is the state that a branch would have at the top of a season, `states` counts what it is nested in as well.
    `unknown` are those whose outcome has not been reported, `begun` those with a job started or done, `done` those with
    a job done and none left to do. `jobs` are the jobs in a branch and in those nested in it.

    A person's call-off goes first, then what was begun, then what outcome and siblings say: siblings of a branch that
    is done are dead, those of one begun are paused.
    """

    def __init__(self, branches: Iterable[Branch], nodes: Iterable[Node]) -> None:
        """Raises ValueError if a job names a branch that is not there, or branches are nested in a circle."""
        self.by_id = {branch.id: branch for branch in sorted(branches, key=lambda branch: branch.id)}
        self.nodes = {node.id: node for node in sorted(nodes, key=lambda node: node.id)}
        self.inner: dict[int, list[int]] = {number: [] for number in self.by_id}
        self.jobs: dict[int, list[int]] = {number: [] for number in self.by_id}
        self.own: dict[int, list[int]] = {number: [] for number in self.by_id}
        self.groups: dict[Group, list[int]] = {}
        for number, branch in self.by_id.items():
            if branch.parent in self.by_id:
                self.inner[branch.parent].append(number)
            if branch.group is not None:
                self.groups.setdefault((branch.season, branch.group), []).append(number)
        for group in self.groups.values():
            group.sort(key=lambda number: (self.by_id[number].order, number))
        outer = {number: self._outer(number) for number in self.by_id}
        for node in self.nodes.values():
            if node.branch is not None:
                if node.branch not in self.by_id:
                    raise ValueError(f"Job {node.id} lies in branch {node.branch}, which is not among those given.")
                self.own[node.branch].append(node.id)
                for number in outer[node.branch]:
                    self.jobs[number].append(node.id)
        self.unknown = {number for number, branch in self.by_id.items() if self._outcome(branch) is None}
        self.unknown = {number for number in self.unknown if self.by_id[number].opened_by is not None}
        self.begun = {
            number
            for number, branch in self.by_id.items()
            if not branch.called_off and any(self._role(job) in REPORTED for job in self.jobs[number])
        }
        self._done: dict[int, bool] = {}
        self.done = {number for number in self.by_id if self._is_done(number)}
        self.alone = {number: self._alone(number) for number in self.by_id}
        self._states: dict[int, BranchState] = {}
        self.states = {number: self._nested(number) for number in self.by_id}

    def siblings(self, number: int) -> list[int]:
        """The other branches of the group, in the manager's order."""
        group = self.group_of(number)
        return [] if group is None else [other for other in self.groups[group] if other != number]

    def group_of(self, number: int) -> Group | None:
        branch = self.by_id[number]
        return None if branch.group is None else (branch.season, branch.group)

    def depth(self, number: int) -> int:
        """How many branches it is nested in, itself included."""
        return len(self._outer(number))

    def hosts(self, number: int) -> list[int]:
        """The branches without which this one cannot be: the one it is nested in, and that of the check whose outcome
        is awaited."""
        branch = self.by_id[number]
        found = [branch.parent] if branch.parent in self.by_id else []
        if number in self.unknown and number not in self.begun and branch.opened_by in self.nodes:
            check = self.nodes[branch.opened_by].branch
            if check is not None and number not in self._outer(check):
                found.append(check)
        return found

    def conflicts(self) -> set[int]:
        """Jobs of branches beside which a sibling was done too (D10)."""
        clash = [number for number in self.done if any(other in self.done for other in self.siblings(number))]
        return {job for number in clash for job in self.jobs[number]}

    def _outer(self, number: int) -> list[int]:
        """The branch and those that it is nested in, inside out."""
        found = [number]
        while (parent := self.by_id[found[-1]].parent) in self.by_id:
            if parent in found:
                raise ValueError(f"Branches {', '.join(map(str, found))} are nested in a circle.")
            found.append(parent)
        return found

    def _outcome(self, branch: Branch) -> str | None:
        check = self.nodes.get(branch.opened_by) if branch.opened_by is not None else None
        return None if check is None else check.outcome

    def _role(self, job: int) -> Role:
        return role_of(self.nodes[job])

    def _is_done(self, number: int) -> bool:
        if number not in self._done:
            self._done[number] = False
            self._done[number] = (
                number in self.begun
                and any(self._role(job) is Role.DONE for job in self.jobs[number])
                and not any(self._role(job) in (Role.OPEN, Role.UNDER_WAY) for job in self.own[number])
                and all(self._is_done(inner) or self._alone(inner) in OUT for inner in self.inner[number])
            )
        return self._done[number]

    def _alone(self, number: int) -> BranchState:
        branch, outcome = self.by_id[number], self._outcome(self.by_id[number])
        siblings = self.siblings(number)
        if branch.called_off:
            return BranchState.DEAD
        if number in self.begun:
            return BranchState.CHOSEN
        if (outcome is not None and outcome not in branch.outcomes) or any(map(self._is_done, siblings)):
            return BranchState.DEAD
        if number in self.unknown and not branch.expected:
            return BranchState.NOT_CALLED_FOR
        return BranchState.PAUSED if self.begun.intersection(siblings) else BranchState.OPEN

    def _nested(self, number: int) -> BranchState:
        if number in self._states:
            return self._states[number]
        alone, parent = self.alone[number], self.by_id[number].parent
        self._states[number] = alone
        around = {alone}
        for host in self.hosts(number):
            state = self._nested(host)
            # A check that is called off brings no outcome, but what it would open was not refused by one either.
            dead = state is BranchState.DEAD and host != parent
            around.add(BranchState.NOT_CALLED_FOR if dead else state)
        order = [BranchState.DEAD, BranchState.NOT_CALLED_FOR, BranchState.PAUSED]
        if alone is BranchState.CHOSEN:
            order = [BranchState.DEAD, BranchState.CHOSEN]
        self._states[number] = next((state for state in order if state in around), BranchState.OPEN)
        return self._states[number]
