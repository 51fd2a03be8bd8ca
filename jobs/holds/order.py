"""Holds of the order of work: predecessors, waits that run, looks, paused ways, contradictions (D1, D5, D6, D16)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from jobs.facts import Facts
from jobs.graph.data import (
    FAR,
    Arc,
    BranchState,
    Curve,
    Dates,
    DegreeDays,
    Fixed,
    Lag,
    Node,
    Relation,
    Schedule,
    Skip,
)
from jobs.graph.network import FROM_FINISH, TO_FINISH, reported_ends, role_of
from jobs.holds.kinds import Hold, HoldKind, at, by_decision, by_report


class Order:
    """The graph of one walk as its holds read it; built once, asked job by job."""

    def __init__(self, facts: Facts, schedule: Schedule, now: int) -> None:
        problem = facts.problem
        self.facts, self.schedule, self.now = facts, schedule, now
        self.nodes = {node.id: node for node in problem.nodes}
        self.branches = {branch.id: branch for branch in problem.branches}
        self.into: dict[int, list[Arc]] = {}
        self.out: dict[int, list[Arc]] = {}
        for arc in sorted(problem.arcs, key=lambda arc: arc.id):
            self.into.setdefault(arc.head, []).append(arc)
            self.out.setdefault(arc.tail, []).append(arc)
        self.reported = {node.id for node in problem.nodes if node.started is not None or node.finished is not None}
        self.begun: dict[tuple[int, str | None], list[Node]] = {}
        for node in problem.nodes:
            if node.branch in self.branches and node.id in self.reported:
                branch = self.branches[node.branch]
                self.begun.setdefault((branch.season, branch.group), []).append(node)

    def of(self, node: Node, dates: Dates) -> list[Hold]:
        """The holds of order of a job that was not begun."""
        found: list[Hold] = []
        if node.id in self.out and not node.still_to_do:
            found += self._question(node)
        if node.branch is not None:
            found += self._paused(node)
        if dates.contradiction:
            found.append(Hold(HoldKind.CONTRADICTION, node.id, "graph", by_decision("manager")))
        if node.id in self.into:
            found += self._links(node)
        return found

    def _question(self, node: Node) -> Iterator[Hold]:
        """A successor was reported although this job never was: done, skipped or still to do is asked once."""
        for arc in self.out[node.id]:
            if arc.head in self.reported and self._counts(arc):
                yield Hold(
                    HoldKind.QUESTION,
                    node.id,
                    f"prerequisite:{arc.id}",
                    by_report(node.id, "done, skipped or still_to_do"),
                    inputs={"successor": arc.head},
                )
                return

    def _paused(self, node: Node) -> Iterator[Hold]:
        if node.branch is None or self.schedule.branches.get(node.branch) is not BranchState.PAUSED:
            return
        branch = self.branches[node.branch]
        begun = self.begun.get((branch.season, branch.group), ())
        busy = min((other.id for other in begun if other.branch != branch.id), default=None)
        yield Hold(HoldKind.PAUSED, node.id, f"branch:{branch.id}", by_report(busy, "done"), inputs={"started": busy})

    def _links(self, node: Node) -> Iterator[Hold]:
        waiting: dict[str, list[tuple[Arc, Node]]] = {}
        for arc, tail, lag in self._predecessors(node.id):
            if _end_is_known(arc.relation, tail):
                yield from self._running(node, arc, tail, lag)
                continue
            group = self._group(tail)
            key = f"group:{group}" if group else f"{_wanted(arc.relation)}:{tail.id}"
            waiting.setdefault(key, []).append((arc, tail))
        yield from (self._predecessor(node, pairs) for pairs in waiting.values())

    def _predecessor(self, node: Node, pairs: list[tuple[Arc, Node]]) -> Hold:
        """One hold for a job that has to come first, or for several of which one has to."""
        arc, tail = pairs[0]
        others: list[int] = []
        if len(pairs) > 1:
            arc, tail = min(pairs, key=lambda pair: (not self.schedule.dates[pair[1].id].on_reference, pair[0].id))
            others = sorted({other.id for _, other in pairs} - {tail.id})
        end = _wanted(arc.relation)
        return Hold(
            HoldKind.PREDECESSOR,
            node.id,
            f"prerequisite:{arc.id}",
            by_report(tail.id, end),
            self.facts.sources.get(arc.id, ""),
            {"predecessor": tail.id, "end": end, "or": others},
        )

    def _running(self, node: Node, arc: Arc, tail: Node, lag: Lag) -> Iterator[Hold]:
        """The waits that began with a fact and still run, or that end with the work that is under way."""
        if arc.confirm and arc.confirmed_at is not None:
            return
        rule, source = f"prerequisite:{arc.id}", self.facts.sources.get(arc.id, "")
        from_finish = arc.relation in FROM_FINISH
        anchor = reported_ends(tail, role_of(tail), self.facts.problem.today)[from_finish].late
        expected = from_finish and tail.finished is None
        shift = node.duration if arc.relation in TO_FINISH else 0
        inputs: dict[str, Any] = {"predecessor": tail.id, "since": anchor}
        if isinstance(lag, Fixed):
            until = anchor + lag.minutes - shift
            if arc.confirm:
                yield self._look(node, arc, inputs, until)
            elif until > self.now:
                yield Hold(HoldKind.LAG, node.id, rule, at(until, predicted=expected), source, inputs)
            return
        curve = self.facts.problem.curves.get(lag.curve)
        inputs["need"] = lag.hundredths
        if isinstance(lag, DegreeDays):
            predicted = curve.reach(anchor, lag.hundredths) if curve is not None else FAR
            inputs["counted"] = curve.counted(anchor, self.now) if curve is not None and not expected else None
            if curve is not None and arc.id in self.facts.upper:
                likely = curve.reach(anchor, self.facts.upper[arc.id])
                inputs |= {"likely": likely} if likely < FAR else {}
            if predicted >= FAR:
                yield Hold(HoldKind.UNKNOWN, node.id, rule, by_report(None, "weather"), source, inputs)
            elif arc.confirm and predicted <= self.now:
                yield self._look(node, arc, inputs, predicted)
            elif predicted - shift > self.now:
                yield Hold(HoldKind.LAG, node.id, rule, at(predicted - shift, predicted=True), source, inputs)
            return
        fallen = _first_rain(curve, anchor, lag.hundredths) if curve is not None else FAR
        inputs["then_minutes"] = lag.then_minutes
        until = fallen + lag.then_minutes - shift
        if fallen >= FAR:
            yield Hold(HoldKind.RAIN, node.id, rule, by_report(None, "rain"), source, inputs)
        elif until > self.now:
            yield Hold(HoldKind.LAG, node.id, rule, at(until, predicted=expected), source, inputs)

    def _look(self, node: Node, arc: Arc, inputs: dict[str, Any], due: int) -> Hold:
        """Only an observation closes it; a look in vain asks again, and leaves the prediction where it is (D6)."""
        again = self.facts.again.get(arc.id)
        inputs |= {"due": due} if again is None else {"due": max(due, again), "in_vain": True}
        source = self.facts.sources.get(arc.id, "")
        return Hold(HoldKind.LOOK, node.id, f"prerequisite:{arc.id}", by_report(node.id, "seen"), source, inputs)

    def _predecessors(self, job: int, seen: frozenset[int] = frozenset()) -> Iterator[tuple[Arc, Node, Lag]]:
        """(arc, predecessor, minimal lag) of every link that binds; a job passed over hands its own links on (D7)."""
        for arc in self.into.get(job, ()):
            tail = self.nodes[arc.tail]
            if arc.minimum is None or not self._counts(arc) or tail.id in seen:
                continue
            if tail.skipped is Skip.SATISFIED:
                continue
            if tail.finished is None and (tail.called_off or tail.skipped is Skip.PASSED_OVER):
                yield from self._predecessors(tail.id, seen | {tail.id})
                continue
            yield arc, tail, arc.minimum

    def _counts(self, arc: Arc) -> bool:
        """The link binds: neither end lies in a branch that is not taken, unless both lie in the same one."""
        tail = self.nodes[arc.tail]
        if tail.branch is None or tail.branch == self.nodes[arc.head].branch or tail.id in self.reported:
            return True
        return self.schedule.branches[tail.branch] not in (BranchState.DEAD, BranchState.NOT_CALLED_FOR)

    def _group(self, tail: Node) -> str | None:
        branch = self.branches.get(tail.branch) if tail.branch is not None else None
        return f"{branch.season}:{branch.group}" if branch is not None and branch.group else None


def _wanted(relation: Relation) -> str:
    """The report that lets the dates decide. Where the link bounds a finish, work that was begun is enough: it says
    when it will end, and the successor may start so long before that its own end is not too soon (D1)."""
    return "done" if relation is Relation.FINISH_START else "start"


def _end_is_known(relation: Relation, tail: Node) -> bool:
    return tail.finished is not None or (relation is not Relation.FINISH_START and tail.started is not None)


def _first_rain(curve: Curve, anchor: int, hundredths: int) -> int:
    """End of the first day after the anchor's whose own rain reaches the amount (D5); FAR until one does."""
    day = curve.day(anchor)
    for k in range(day + 1 if day is not None else len(curve), len(curve)):
        if curve.values[k] >= hundredths:
            return curve.day_starts[k + 1]
    return FAR
