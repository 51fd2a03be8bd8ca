"""One walk: facts in, reckonings out (D8 to D18). Pure: `now` is an argument, equal input gives equal output."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from jobs.facts import Facts
from jobs.graph import schedule
from jobs.graph.allowed import allowed_starts
from jobs.graph.data import FAR, BranchState, Cause, Dates, DegreeDays, Node, Rain, Schedule
from jobs.graph.explain import Explainer, Finding
from jobs.holds import Clearing, Hold, HoldKind, Holds
from jobs.parts import PartClocks, part_clocks


class State(StrEnum):
    """State of a job, the first that holds (D15)."""

    DONE = "done"
    CALLED_OFF = "called_off"
    UNDER_WAY = "under_way"
    NOT_CALLED_FOR = "not_called_for"
    LAPSED = "lapsed"
    HELD = "held"
    OPEN = "open"


UNSETTLED = frozenset({HoldKind.QUESTION, HoldKind.CONTRADICTION, HoldKind.PAUSED})


@dataclass(slots=True, unsafe_hash=True)
class Result:
    """What one walk says of one job: state, dates and holds. `chain` are the arcs behind its earliest start.

    `set_aside` are the verdicts against which a written reason stands."""

    job: int
    state: State
    dates: Dates
    holds: tuple[Hold, ...]
    chain: tuple[int, ...] = ()
    finding: Finding | None = None
    parts: tuple[PartClocks, ...] = ()
    set_aside: tuple[Hold, ...] = ()


@dataclass(frozen=True, slots=True)
class Walk:
    """Results by job id, states of branches, and the next instant at which anything would differ with equal facts."""

    results: Mapping[int, Result]
    branches: Mapping[int, BranchState]
    wake_at: int


def walk(facts: Facts, now: int) -> Walk:
    """Reckon every job of `facts` at `now` (minutes since 1970-01-01 UTC).

    Law (D17): for now <= later < wake_at the walk at `later` gives equal results.
    """
    plan = schedule(facts.problem)
    holds, explainer = Holds(facts, plan, now), Explainer(plan, facts.problem)
    results = {}
    wake = facts.next_midnight
    for node in sorted(facts.problem.nodes, key=lambda node: node.id):
        result = _result(facts, explainer, holds, node, now)
        results[node.id] = result
        wake = min(wake, _next_change(result, node, facts, now))
    return Walk(results, plan.branches, wake)


def _result(facts: Facts, explainer: Explainer, holds: Holds, node: Node, now: int) -> Result:
    plan = explainer.schedule
    dates = plan.dates[node.id]
    state = settled_state(node, plan)
    parts = part_clocks(facts, node.id, holds.out.get(node.id, ()))
    if state in (State.DONE, State.CALLED_OFF, State.NOT_CALLED_FOR):
        return Result(node.id, state, dates, (), parts=parts)
    late = too_late(explainer, node, dates, now)
    found, aside = map(tuple, holds.of(node.id))
    if state is None:
        # These are put first: a date reckoned across them says nothing yet.
        unsettled = any(hold.kind in UNSETTLED for hold in found)
        state = State.LAPSED if late and not unsettled else State.HELD if found else State.OPEN
    broken = explainer.finding(node.id, now) if late else None
    return Result(node.id, state, dates, found, tuple(explainer.chain(node.id)), broken, parts, aside)


def settled_state(node: Node, plan: Schedule) -> State | None:
    """The state that facts alone decide, or None where dates and holds have the word."""
    if node.finished is not None:
        return State.DONE
    branch = plan.branches.get(node.branch) if node.branch is not None else None
    if node.called_off or node.skipped is not None or branch is BranchState.DEAD:
        return State.CALLED_OFF
    if node.started is not None:
        return State.UNDER_WAY
    if branch is BranchState.NOT_CALLED_FOR:
        return State.NOT_CALLED_FOR
    return None


def too_late(explainer: Explainer, node: Node, dates: Dates, now: int) -> bool:
    """The latest start has passed, or lies before the earliest (D13).

    An earliest start that is unknown for want of weather is no proof of lateness: such a job is held, until its latest
    start itself has passed."""
    if dates.ls >= FAR and dates.es < FAR:
        return False
    if dates.ls < now and node.started is None:
        return True
    if dates.es >= FAR:
        return not _unknown(explainer, node.id)
    return dates.ls < dates.es


def _unknown(explainer: Explainer, job: int) -> bool:
    """The earliest start is FAR because a weather lag has no answer, somewhere on the way to it."""
    plan, seen = explainer.schedule, set()
    while job not in seen:
        seen.add(job)
        why = plan.dates[job].why_es
        if why.cause is not Cause.ARC or why.arc is None:
            return False
        arc = explainer.arcs[why.arc]
        tail = arc.tail if arc.head == job else arc.head
        if plan.dates[tail].es < FAR:
            return isinstance(arc.minimum, DegreeDays | Rain)
        job = tail
    return True


def _next_change(result: Result, node: Node, facts: Facts, now: int) -> int:
    """The next instant after `now` at which this result would differ although no fact did."""
    if result.state in (State.DONE, State.CALLED_OFF):
        return FAR
    instants = [hold.clears.at for hold in result.holds if hold.clears.how is Clearing.AT and hold.clears.at]
    instants += [result.dates.ls + 1, result.dates.es]
    own = facts.jobs[result.job]
    for first, last in allowed_starts(node.spans, node.duration):
        instants += [first, last + 1]
    for closure in own.closures:
        instants += [closure.first, closure.last]
    for consent in own.consents:
        instants += [consent.since or 0, consent.until or 0]
    for need in own.machines:
        for machine in need.machines:
            instants += [machine.from_minute or 0, machine.to_minute or 0]
    for skill in own.skills:
        for since, until in skill.held:
            instants += [since, until or 0]
    instants += own.changes
    for bound in own.bounds:
        instants += [bound.first, bound.last]
    instants += [sprayed.until or 0 for sprayed in own.sprayed]
    if own.trouble_clears:
        instants.append(own.trouble_clears)
    return min((instant for instant in instants if instant > now), default=FAR)
