"""Every reason why a job cannot go now, and what clears it (D15, D16). Pure; `now` is an argument.

A hold carries codes and figures; its sentence is made by `jobs.sentences` on reading.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from jobs.facts import Facts, JobFacts
from jobs.graph.allowed import allowed_starts, up
from jobs.graph.data import (
    FAR,
    Arc,
    BranchState,
    Cause,
    Curve,
    Dates,
    DegreeDays,
    Fixed,
    Node,
    Rain,
    Relation,
    Schedule,
    Skip,
)


class HoldKind(StrEnum):
    """Kinds of holds; each has a sentence, a test that makes it and one that clears it."""

    PREDECESSOR = "predecessor"
    LAG = "lag"
    LOOK = "look"
    RAIN = "rain"
    UNKNOWN = "unknown"
    SEASON = "season"
    CONTRACT = "contract"
    QUIET = "quiet"
    BAN = "ban"
    TENURE = "tenure"
    NO_FIT = "no_fit"
    TOO_EARLY = "too_early"
    QUESTION = "question"
    TROUBLE = "trouble"
    MACHINE = "machine"
    MATERIAL = "material"
    SKILL = "skill"
    CONSENT = "consent"
    SPRAYED = "sprayed"
    PAUSED = "paused"
    CONTRADICTION = "contradiction"


OVERRIDABLE = frozenset({HoldKind.TROUBLE, HoldKind.MACHINE, HoldKind.MATERIAL, HoldKind.SPRAYED})
"""Holds that a manager may set aside with a written reason. Order, waits, law and consent are changed as facts."""


DAYS = frozenset({HoldKind.SEASON, HoldKind.CONTRACT, HoldKind.QUIET, HoldKind.BAN, HoldKind.TENURE})
"""Holds of days on which the job may not be done."""


class Clearing(StrEnum):
    """What clears a hold: an instant, a report, a decision, or nothing any more."""

    AT = "at"
    REPORT = "report"
    DECISION = "decision"
    NEVER = "never"


@dataclass(frozen=True, slots=True)
class Clears:
    """`at` in minutes with AT (and `predicted`); `job` and `report` with REPORT; `who` with DECISION."""

    how: Clearing
    at: int | None = None
    predicted: bool = False
    job: int | None = None
    report: str = ""
    who: str = ""


@dataclass(frozen=True, slots=True)
class Hold:
    """One reason. `rule` names the fact behind it ("prerequisite:12"), `source` where its figure comes from."""

    kind: HoldKind
    job: int
    rule: str
    clears: Clears
    source: str = ""
    inputs: Mapping[str, Any] = field(default_factory=dict)


def at(instant: int, *, predicted: bool = False) -> Clears:
    return Clears(Clearing.AT, at=instant, predicted=predicted)


def by_report(job: int | None, report: str) -> Clears:
    return Clears(Clearing.REPORT, job=job, report=report)


def by_decision(who: str) -> Clears:
    return Clears(Clearing.DECISION, who=who)


class Holds:
    """The holds of every job of one walk. Build once, ask `of(job)` per job; reads facts and dates, never a clock."""

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
        self.begun: dict[tuple[int, str | None], list[Node]] = {}
        for node in problem.nodes:
            branch = self.branches.get(node.branch) if node.branch is not None else None
            if branch is not None and self._reported(node):
                self.begun.setdefault((branch.season, branch.group), []).append(node)

    def of(self, job: int) -> list[Hold]:
        """All blocking holds of a job at `now`, in a fixed order; a settled job is not asked about."""
        node, dates, facts = self.nodes[job], self.schedule.dates[job], self.facts.jobs[job]
        order = []
        if node.started is None:  # what was begun is bound by no predecessor any more
            order = [*self._question(node), *self._paused(node), *self._contradiction(dates), *self._links(node)]
        found = [*order, *self._trouble(facts), *self._days(node, facts), *self._people_and_things(facts)]
        found += self._late_start(node, dates, found)
        return [hold for hold in found if not (hold.kind in OVERRIDABLE and hold.kind.value in facts.overridden)]

    # order

    def _question(self, node: Node) -> Iterator[Hold]:
        """A successor was reported although this job never was: done, skipped or still to do is asked once."""
        if node.still_to_do:
            return
        for arc in self.out.get(node.id, ()):
            head = self.nodes[arc.head]
            if self._reported(head) and self._counts(arc):
                yield Hold(
                    HoldKind.QUESTION,
                    node.id,
                    f"prerequisite:{arc.id}",
                    by_report(node.id, "done, skipped or still_to_do"),
                    inputs={"successor": head.id},
                )
                return

    def _paused(self, node: Node) -> Iterator[Hold]:
        if node.branch is None or self.schedule.branches.get(node.branch) is not BranchState.PAUSED:
            return
        branch = self.branches[node.branch]
        begun = self.begun.get((branch.season, branch.group), ())
        busy = min((other.id for other in begun if other.branch != branch.id), default=None)
        yield Hold(HoldKind.PAUSED, node.id, f"branch:{branch.id}", by_report(busy, "done"), inputs={"started": busy})

    def _contradiction(self, dates: Dates) -> Iterator[Hold]:
        if dates.contradiction:
            yield Hold(HoldKind.CONTRADICTION, dates.job, "graph", by_decision("manager"))

    def _links(self, node: Node) -> Iterator[Hold]:
        waiting: dict[str, list[tuple[Arc, Node]]] = {}
        for arc, tail, lag in self._predecessors(node.id):
            if not self._end_known(arc.relation, tail):
                group = self._group(tail)
                end = "start" if arc.relation in (Relation.START_START, Relation.START_FINISH) else "done"
                key = f"group:{group}" if group else f"{end}:{tail.id}"
                waiting.setdefault(key, []).append((arc, tail))
                continue
            yield from self._running(node, arc, tail, lag)
        for pairs in waiting.values():
            arc, tail = min(pairs, key=lambda pair: (not self.schedule.dates[pair[1].id].on_reference, pair[0].id))
            others = sorted({other.id for _, other in pairs} - {tail.id})
            end = "start" if arc.relation in (Relation.START_START, Relation.START_FINISH) else "done"
            yield Hold(
                HoldKind.PREDECESSOR,
                node.id,
                f"prerequisite:{arc.id}",
                by_report(tail.id, end),
                self.facts.sources.get(arc.id, ""),
                {"predecessor": tail.id, "end": end, "or": others},
            )

    def _running(self, node: Node, arc: Arc, tail: Node, lag: object) -> Iterator[Hold]:
        """The waits that began with a fact and still run."""
        rule, source = f"prerequisite:{arc.id}", self.facts.sources.get(arc.id, "")
        anchor = self._anchor(arc.relation, tail)
        shift = node.duration if arc.relation in (Relation.FINISH_FINISH, Relation.START_FINISH) else 0
        inputs: dict[str, Any] = {"predecessor": tail.id, "since": anchor}
        if arc.confirm and arc.confirmed_at is not None:
            return
        if isinstance(lag, Fixed):
            until = anchor + lag.minutes - shift
            if arc.confirm:
                yield self._look(node, arc, inputs, until)
            elif until > self.now:
                yield Hold(HoldKind.LAG, node.id, rule, at(until), source, inputs)
        elif isinstance(lag, DegreeDays):
            curve = self.facts.problem.curves.get(lag.curve)
            predicted = curve.reach(anchor, lag.hundredths) if curve is not None else FAR
            counted = curve.counted(anchor, self.now) if curve is not None else None
            inputs |= {"need": lag.hundredths, "counted": counted}
            if curve is not None and arc.id in self.facts.upper:
                likely = curve.reach(anchor, self.facts.upper[arc.id])
                inputs |= {"likely": likely} if likely < FAR else {}
            if predicted >= FAR:
                yield Hold(HoldKind.UNKNOWN, node.id, rule, by_report(None, "weather"), source, inputs)
            elif arc.confirm and predicted <= self.now:
                yield self._look(node, arc, inputs, predicted)
            elif predicted - shift > self.now:
                yield Hold(HoldKind.LAG, node.id, rule, at(predicted - shift, predicted=True), source, inputs)
        elif isinstance(lag, Rain):
            curve = self.facts.problem.curves.get(lag.curve)
            fallen = _first_rain(curve, anchor, lag.hundredths) if curve is not None else FAR
            inputs |= {"need": lag.hundredths, "then_minutes": lag.then_minutes}
            if fallen >= FAR:
                yield Hold(HoldKind.RAIN, node.id, rule, by_report(None, "rain"), source, inputs)
            elif fallen + lag.then_minutes - shift > self.now:
                yield Hold(HoldKind.LAG, node.id, rule, at(fallen + lag.then_minutes - shift), source, inputs)

    def _look(self, node: Node, arc: Arc, inputs: dict[str, Any], due: int) -> Hold:
        """Only an observation closes it; a look in vain asks again, and leaves the prediction where it is (D6)."""
        again = self.facts.again.get(arc.id)
        inputs |= {"due": due} if again is None else {"due": max(due, again), "in_vain": True}
        source = self.facts.sources.get(arc.id, "")
        return Hold(HoldKind.LOOK, node.id, f"prerequisite:{arc.id}", by_report(node.id, "seen"), source, inputs)

    # days

    def _days(self, node: Node, facts: JobFacts) -> Iterator[Hold]:
        if facts.first is not None and self.now < facts.first:
            yield Hold(HoldKind.SEASON, node.id, "season", at(facts.first), facts.dates_source)
        for closure in facts.closures:
            if closure.first <= self.now < closure.last:
                clears = at(closure.last) if closure.last < FAR else Clears(Clearing.NEVER)
                yield Hold(
                    HoldKind(closure.kind),
                    node.id,
                    f"{closure.kind}:{closure.id}",
                    clears,
                    closure.source,
                    {"reason": closure.reason, "from": closure.first},
                )

    def _late_start(self, node: Node, dates: Dates, found: Iterable[Hold]) -> Iterator[Hold]:
        """The law "an earliest start ahead is explained by a hold": a maximal lag or a closure ahead moved it.

        Dates are reckoned from the day's first instant, so what no longer fits from `now` on is held here too."""
        if node.started is not None:
            return
        if dates.es <= self.now:
            fits = up(allowed_starts(node.spans, node.duration), self.now)
            closed = any(hold.kind in DAYS for hold in found)
            if fits > self.now and not closed:
                clears = at(fits) if fits < FAR else Clears(Clearing.NEVER)
                yield Hold(HoldKind.NO_FIT, node.id, "season", clears, inputs={"minutes": node.duration})
            return
        for hold in found:
            if hold.clears.how is not Clearing.AT or (hold.clears.at or 0) >= dates.es:
                return
        clears = at(dates.es, predicted=True) if dates.es < FAR else Clears(Clearing.NEVER)
        if dates.why_es.cause is Cause.SPAN:
            yield Hold(HoldKind.NO_FIT, node.id, "season", clears, inputs={"minutes": node.duration})
        elif dates.es >= FAR:
            yield Hold(HoldKind.UNKNOWN, node.id, f"prerequisite:{dates.why_es.arc}", by_report(None, "weather"))
        else:
            arc = dates.why_es.arc
            yield Hold(HoldKind.TOO_EARLY, node.id, f"prerequisite:{arc}", clears, self.facts.sources.get(arc or 0, ""))

    # people and things

    def _trouble(self, facts: JobFacts) -> Iterator[Hold]:
        trouble = facts.trouble
        if trouble is None:
            return
        clears = by_report(facts.id, "start or done")
        if facts.trouble_clears is not None:
            if facts.trouble_clears <= self.now:
                return
            clears = at(facts.trouble_clears)
        yield Hold(
            HoldKind.TROUBLE,
            facts.id,
            f"report:{trouble.report}",
            clears,
            inputs={"reason": trouble.reason, "at": trouble.at},
        )

    def _people_and_things(self, facts: JobFacts) -> Iterator[Hold]:
        for consent in facts.consents:
            given = consent.since is not None and consent.since <= self.now
            if not given or (consent.until is not None and self.now >= consent.until):
                clears = at(consent.since) if consent.since is not None and not given else by_decision(consent.whose)
                yield Hold(HoldKind.CONSENT, facts.id, f"consent:{consent.id}", clears, inputs={"whose": consent.whose})
        for active in facts.sprayed:
            if active.until is None or active.until > self.now:
                clears = by_decision("manager") if active.until is None else at(active.until)
                yield Hold(
                    HoldKind.SPRAYED,
                    facts.id,
                    f"active:{active.active}",
                    clears,
                    active.source,
                    {"active": active.active, "at": active.at, "note": active.note},
                )
        for need in facts.machines:
            yield from self._machine(facts.id, need.name, need.machines)
        for material in facts.materials:
            if material.stock is not None and material.stock < material.needed:
                yield Hold(
                    HoldKind.MATERIAL,
                    facts.id,
                    f"material:{material.id}",
                    by_report(None, "stock"),
                    inputs={"needed": material.needed, "stock": material.stock, "material": material.id},
                )
        for skill in facts.skills:
            if any(first <= self.now and (last is None or self.now < last) for first, last in skill.held):
                continue
            ahead = min((first for first, _ in skill.held if first > self.now), default=None)
            yield Hold(
                HoldKind.SKILL,
                facts.id,
                f"skill:{skill.name}",
                at(ahead) if ahead is not None else by_decision("manager"),
                inputs={"skill": skill.name},
            )

    def _machine(self, job: int, kind: str, machines: Iterable[Any]) -> Iterator[Hold]:
        machines = list(machines)
        usable = [
            machine
            for machine in machines
            if machine.from_minute is not None
            and machine.from_minute <= self.now
            and (machine.to_minute is None or self.now < machine.to_minute)
        ]
        if not machines or usable:
            return
        back = [m.from_minute for m in machines if m.from_minute is not None and m.from_minute > self.now]
        first = min(machines, key=lambda machine: machine.id)
        yield Hold(
            HoldKind.MACHINE,
            job,
            f"machine:{first.id}",
            at(min(back)) if back else by_report(None, "machine"),
            inputs={"kind": kind, "machine": first.id, "state": first.state},
        )

    # reading the graph

    def _predecessors(self, job: int, seen: frozenset[int] = frozenset()) -> Iterator[tuple[Arc, Node, object]]:
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
        tail, head = self.nodes[arc.tail], self.nodes[arc.head]
        if tail.branch is None or tail.branch == head.branch or self._reported(tail):
            return True
        return self.schedule.branches[tail.branch] not in (BranchState.DEAD, BranchState.NOT_CALLED_FOR)

    def _group(self, tail: Node) -> str | None:
        branch = self.branches.get(tail.branch) if tail.branch is not None else None
        return f"{branch.season}:{branch.group}" if branch is not None and branch.group else None

    @staticmethod
    def _reported(node: Node) -> bool:
        return node.started is not None or node.finished is not None

    @staticmethod
    def _end_known(relation: Relation, tail: Node) -> bool:
        if relation in (Relation.START_START, Relation.START_FINISH):
            return tail.started is not None or tail.finished is not None
        return tail.finished is not None

    @staticmethod
    def _anchor(relation: Relation, tail: Node) -> int:
        """The late reading of the end that the wait counts from."""
        if relation in (Relation.START_START, Relation.START_FINISH):
            moment = tail.started
            if moment is None and tail.finished is not None:
                return tail.finished.late - tail.duration
        else:
            moment = tail.finished
        if moment is None:
            raise ValueError(f"Job {tail.id} has no reported {relation} end.")
        return moment.late


def _first_rain(curve: Curve, anchor: int, hundredths: int) -> int:
    """End of the first day after the anchor's whose own rain reaches the amount (D5); FAR until one does."""
    day = curve.day(anchor)
    for k in range(day + 1 if day is not None else len(curve), len(curve)):
        if curve.values[k] >= hundredths:
            return curve.day_starts[k + 1]
    return FAR
