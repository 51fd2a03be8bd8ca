"""Who works on a job, and whose hours it fits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from jobs.reminder_rules.data import Free, Hearer

ENOUGH_MIN = 240
"""A longer job fits where so many minutes are free in one stretch: it can be done in parts (common practice)."""


def hearers(
    people: Iterable[Hearer],
    *,
    assigned_people: frozenset[int],
    assigned_crews: frozenset[int],
    crews_here: frozenset[int],
) -> tuple[int, ...]:
    """Who works on a job: those it was given to, else the crews that look after its property, else the managers.

    Viewers only look and hear nothing."""
    workers = sorted((p for p in people if p.role != "viewer"), key=lambda person: person.id)
    if assigned_people or assigned_crews:
        return tuple(p.id for p in workers if p.id in assigned_people or p.crews & assigned_crews)
    found = tuple(p.id for p in workers if p.crews & crews_here)
    return found or tuple(p.id for p in workers if p.role == "manager")


def fitting(
    workers: Iterable[int], *, given: bool, free: Mapping[int, Free], minutes: int, skills: frozenset[str]
) -> tuple[int, ...]:
    """Those of the workers whose free hours and certificates the job fits; all of them where it was given by hand.

    Whoever listed no hours is told: nobody knows that they cannot come. Nobody fits: empty, and the managers hear."""
    if given:
        return tuple(workers)
    enough = min(minutes, ENOUGH_MIN)
    nothing = Free(False, 0)
    return tuple(
        person
        for person in workers
        for has in (free.get(person, nothing),)
        if skills <= has.skills and (not has.known or has.longest >= enough)
    )
