"""The clocks of a job done in parts: each part keeps its own, the strictest is that of the last one (D7). Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from jobs.facts import Facts
from jobs.graph.data import FAR, Arc, DegreeDays, Fixed, Relation

FROM_FINISH = frozenset({Relation.FINISH_START, Relation.FINISH_FINISH})


@dataclass(frozen=True, slots=True)
class PartClocks:
    """So many acres done at an instant, and when each wait that counts from the work's end is over for this part:
    (prerequisite, instant), in whole minutes, without those of which no instant is known."""

    at: int
    acres: float
    over: tuple[tuple[int, int], ...]


def part_clocks(facts: Facts, job: int, out: Iterable[Arc]) -> tuple[PartClocks, ...]:
    """The parts of a job in the order of happening; `out` are the prerequisites in which it goes first."""
    waits = [arc for arc in out if arc.relation in FROM_FINISH]
    found = []
    for part in facts.jobs[job].parts:
        over = ((arc.id, _over(facts, arc, part.at.late)) for arc in waits)
        found.append(PartClocks(part.at.late, part.acres, tuple((pk, at) for pk, at in over if at is not None)))
    return tuple(found)


def _over(facts: Facts, arc: Arc, since: int) -> int | None:
    lag = arc.minimum
    if isinstance(lag, Fixed) and lag.minutes > 0:
        return since + lag.minutes
    if isinstance(lag, DegreeDays):
        curve = facts.problem.curves.get(lag.curve)
        reached = curve.reach(since, lag.hundredths) if curve is not None else FAR
        return reached if reached < FAR else None
    return None
