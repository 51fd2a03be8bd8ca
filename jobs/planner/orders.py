"""Why two jobs of one tank go in their order: the sum that the other order comes to. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.planner.hours import starts
from jobs.planner.problem import Job, Problem


@dataclass(frozen=True, slots=True)
class OtherOrder:
    """The other job first: over at `ends`, then so many minutes of washing and of moving, so the job could start at
    `starts`, in a way that needs it by `by` at the latest; None where none of its hours is left then."""

    ends: int
    wash_min: int
    move_min: int
    starts: int
    by: int

    @property
    def fits(self) -> bool:
        return self.starts <= self.by


def other_order(problem: Problem, job: Job, before: Job, machine: str) -> OtherOrder | None:
    """What comes of `before` going first with the machine, as early as its hours let it; None if it cannot go."""
    used = problem.machine(machine)
    minutes = min(way.minutes for way in before.ways if machine in way.machines)
    there = used.free_from + problem.roads.haul(used.stands_at, before.place)
    first = next((max(a, there) for a, b in starts(problem, before, minutes) if b >= there), None)
    own = min(way.minutes for way in job.ways if machine in way.machines)
    spans = starts(problem, job, own)
    if first is None or not spans:
        return None
    wash = (used.wash_min or 0) if before.puts & job.spoiled_by else 0
    move = problem.roads.haul(before.place, job.place)
    ends = first + minutes
    return OtherOrder(ends, wash, move, ends + wash + move, spans[-1][1])
