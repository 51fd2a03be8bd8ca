"""The work of the page by property: of every property the nearest jobs, and the whole list of one, page by page."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import Case, F, QuerySet, Value, When, Window
from django.db.models.functions import RowNumber

from core.models import Holding, Person
from jobs.models import Job, JobState
from jobs.selectors.answers import answer_rows, answers
from jobs.selectors.progress import ASIDE
from jobs.selectors.visible import visible_jobs

NEAREST = 6
"""So many jobs of each property are shown beside those of others, and so many of the held."""
ON_A_PAGE = 25
ORDER = (JobState.UNDER_WAY, JobState.OPEN, JobState.LAPSED, JobState.HELD)

_RANK = Case(*(When(reckoning__state=state, then=Value(place)) for place, state in enumerate(ORDER)))
_NEAREST_FIRST = (F("rank").asc(), F("reckoning__latest_start").asc(nulls_last=True), F("id").asc())


def listed_jobs(person: Person) -> QuerySet[Job]:
    """What is to be done, held or too late, without ways set aside for another one."""
    jobs = visible_jobs(person).filter(reckoning__state__in=ORDER).exclude(ASIDE)
    return jobs.annotate(rank=_RANK, held=Case(When(reckoning__state=JobState.HELD, then=1), default=0))


def nearest_by_property(
    holding: Holding, person: Person, properties: Sequence[int], now: datetime
) -> dict[int, list[dict[str, Any]]]:
    """Answers by property: at most `NEAREST` that are not held and as many held, nearest deadline first. Callers bound
    how many properties."""
    place = Window(RowNumber(), partition_by=[F("plot__property_id"), F("held")], order_by=_NEAREST_FIRST)
    jobs = listed_jobs(person).filter(plot__property_id__in=list(properties)).annotate(place=place)
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for answer in _told(holding, jobs.filter(place__lte=NEAREST), now):
        found[answer["property"]["id"]].append(answer)
    return found


def jobs_of_property(
    holding: Holding, person: Person, property_id: int, page: int, now: datetime
) -> list[dict[str, Any]]:
    """Answers of one page of a property's list, in the same order; pages count from 1."""
    jobs = listed_jobs(person).filter(plot__property_id=property_id)
    return _told(holding, jobs, now, slice((page - 1) * ON_A_PAGE, page * ON_A_PAGE))


def _told(holding: Holding, jobs: QuerySet[Job], now: datetime, part: slice = slice(None)) -> list[dict[str, Any]]:
    order = [pk for (pk,) in jobs.order_by(*_NEAREST_FIRST).values_list("id")[part]]
    rows = {row["id"]: row for row in answer_rows(Job.objects.filter(holding=holding, pk__in=order))}
    return answers(holding, [rows[pk] for pk in order if pk in rows], now)
