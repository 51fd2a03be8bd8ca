"""Every reason why a job cannot go now, and what clears it (D15, D16). Pure; `now` is an argument.

A hold carries codes and figures; its sentence is made by `jobs.sentences` on reading.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from jobs.facts import Facts
from jobs.graph.allowed import allowed_starts, up
from jobs.graph.data import FAR, NEG, Arc, Cause, Dates, Node, Schedule
from jobs.holds import things
from jobs.holds.kinds import DAYS, OVERRIDABLE, Clearing, Clears, Hold, HoldKind, at, by_report, verdict
from jobs.holds.order import Order

__all__ = ["DAYS", "OVERRIDABLE", "Clearing", "Clears", "Hold", "HoldKind", "Holds", "verdict"]


class Holds:
    """The holds of every job of one walk. Build once, ask `of(job)` per job; reads facts and dates, never a clock."""

    def __init__(self, facts: Facts, schedule: Schedule, now: int) -> None:
        self.facts, self.schedule, self.now = facts, schedule, now
        self.order = Order(facts, schedule, now)

    @property
    def out(self) -> Mapping[int, Sequence[Arc]]:
        """By job, the prerequisites in which it goes first."""
        return self.order.out

    def of(self, job: int) -> tuple[list[Hold], list[Hold]]:
        """All blocking holds of a job at `now`, in a fixed order, and those set aside in writing, which stay verdicts.

        A settled job is not asked about."""
        node, dates, facts = self.order.nodes[job], self.schedule.dates[job], self.facts.jobs[job]
        # What was begun is bound by no predecessor any more.
        found = self.order.of(node, dates) if node.started is None else []
        found += things.of(facts, self.now)
        if node.started is None:
            found += self._late_start(node, dates, found)
        if not facts.overridden:
            return found, []
        aside = [
            hold
            for hold in found
            if hold.kind in OVERRIDABLE
            and hold.kind.value in facts.overridden
            # A reason for what is not known of a spray is none for one that came after it.
            and (hold.kind is not HoldKind.LABEL or hold.inputs.get("since", NEG) <= facts.label_until)
        ]
        return [hold for hold in found if hold not in aside], aside

    def _late_start(self, node: Node, dates: Dates, found: Sequence[Hold]) -> Iterator[Hold]:
        """The law "an earliest start ahead is explained by a hold": a maximal lag or a closure ahead moved it.

        Dates are reckoned from the day's first instant, so what no longer fits from `now` on is held here too."""
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
