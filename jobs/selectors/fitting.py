"""Whose free hours and certificates a job that opened fits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q

from core.models import Certificate, Holding, Person
from jobs.graph.data import FAR
from jobs.minutes import floor_minute, local_day
from jobs.models import Job
from jobs.reminder_rules import Free, Work, fitting
from jobs.selectors.answers import answer_rows, bring_of, minutes_left
from jobs.selectors.own_hours import OwnHours

DAYS = 7
"""Free hours of so many days from today on are looked at."""


def who_fits(
    holding: Holding, jobs: Iterable[int], works: Mapping[int, Work], now: datetime
) -> dict[int, tuple[int, ...]]:
    """By job: those who work on it and whose hours of the next days, before its last start, and certificates it fits.

    A few queries a person, whatever the number of jobs."""
    rows = answer_rows(Job.objects.filter(pk__in=list(jobs)))
    if not rows:
        return {}
    minute = floor_minute(now)
    today = local_day(holding.zone, minute)
    days = [today + timedelta(days=offset) for offset in range(DAYS)]
    people = Person.objects.filter(pk__in={person for row in rows for person in works[row["id"]].workers})
    hours = {person.pk: OwnHours(holding, person, days) for person in people.order_by("id")}
    skills: dict[int, set[str]] = defaultdict(set)
    valid = Certificate.objects.filter(person__in=list(hours), valid_from__lte=today)
    valid = valid.filter(Q(valid_to=None) | Q(valid_to__gte=today))
    for person, name in valid.values_list("person_id", "skill__name"):
        skills[person].add(name.lower())
    needs = bring_of(holding.pk, rows)
    return {
        row["id"]: fitting(
            works[row["id"]].workers,
            given=any(given.active for given in works[row["id"]].given),
            free={pk: _free(own, row, minute, frozenset(skills[pk])) for pk, own in hours.items()},
            minutes=minutes_left(row),
            skills=frozenset(name.lower() for name in needs[row["id"]]["skills"]),
        )
        for row in rows
    }


def _free(own: OwnHours, row: Mapping[str, Any], minute: int, skills: frozenset[str]) -> Free:
    late = row["reckoning__latest_start"]
    last = FAR if late is None else floor_minute(late)
    longest = max((end - start for start, end in own.at(row, minute) if start <= last), default=0)
    return Free(own.known, longest, skills)
