"""Who hears that a job opened. Pure: states before and after in, intents out; the walk stores them as notices (D19)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

OPENED = "opened"


@dataclass(frozen=True, slots=True)
class Hearer:
    """Somebody who can be told. `crews` are those they go out with."""

    id: int
    role: str
    crews: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Intent:
    """One piece of news for one person; `basis` is what makes it news, the same news has the same basis."""

    person: int
    kind: str
    job: int
    basis: str


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


def opened(
    before: Mapping[int, str], after: Mapping[int, str], who: Mapping[int, tuple[int, ...]], day: str
) -> list[Intent]:
    """News of the jobs that are open now and were not before; `day`, the holding's local day, is the basis."""
    return [
        Intent(person, OPENED, job, f"open {day}")
        for job in sorted(after)
        if after[job] == "open" and before.get(job) != "open"
        for person in who.get(job, ())
    ]


def no_longer_open(before: Mapping[int, str], after: Mapping[int, str]) -> list[int]:
    """Jobs whose news, if it has not left yet, is wanted no more."""
    return sorted(job for job, state in after.items() if before.get(job) == "open" and state != "open")
