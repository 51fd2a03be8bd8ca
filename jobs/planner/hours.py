"""In which minutes a job may start, and who may be of its crew, each job by itself. Pure."""

from __future__ import annotations

from jobs.planner.problem import Job, Problem, Shift

Span = tuple[int, int]
"""First and last minute, both included."""


def open_hours(problem: Problem, job: Job) -> list[Span]:
    """Stretches (from, before) of which the job has to lie inside one: its windows in light and out of quiet times."""
    spans = [(window.start, window.end) for window in job.windows]
    if job.needs_light:
        lights = [(day.light_from, day.light_to - job.light_after_min) for day in problem.days]
        spans = [(max(a, c), min(b, d)) for a, b in spans for c, d in lights]
    for quiet in problem.quiet:
        if quiet.place == job.place:
            spans = [part for a, b in spans for part in ((a, min(b, quiet.start)), (max(a, quiet.end), b))]
    return sorted({(a, b) for a, b in spans if a < b})


def starts(problem: Problem, job: Job, minutes: int) -> list[Span]:
    """Spans of minutes at which work of so many minutes may start."""
    return [(a, b - minutes) for a, b in open_hours(problem, job) if b - a >= minutes]


def within(spans: list[Span], first: int, last: int) -> list[Span]:
    return [(max(a, first), min(b, last)) for a, b in spans if max(a, first) <= min(b, last)]


def may_join(problem: Problem, job: Job, shift: Shift) -> bool:
    """Whether children and the certificates that everybody needs let this shift's person be of the crew."""
    if shift.children and job.children_out:
        return False
    person, day = problem.person(shift.person), problem.day(shift.day)
    return all(person.holds(skill, day) for skill in job.all_with)


def reach(problem: Problem, job: Job, shift: Shift, minutes: int) -> list[Span]:
    """Minutes at which the person of the shift can start the job, going there and back only for it."""
    first = shift.start + problem.roads.drive(shift.begins_at, job.place)
    last = shift.end - problem.roads.drive(job.place, shift.ends_at) - minutes
    return within(starts(problem, job, minutes), first, last)
