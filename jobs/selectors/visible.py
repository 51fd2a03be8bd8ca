"""Which jobs a person may see and report on."""

from __future__ import annotations

from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from core.models import CrewMember, Person, Role
from jobs.models import Assignment, AssignmentState, Job
from plots.models import CrewProperty


def visible_jobs(person: Person) -> QuerySet[Job]:
    """The jobs a person may see: managers and viewers all of the holding; helpers their own, those of their crews, and
    the unassigned ones at the properties that their crews look after."""
    return jobs_seen(Job.objects.filter(holding_id=person.holding_id), person.role, person.pk)


def jobs_seen(jobs: QuerySet[Job], role: str, person: Any) -> QuerySet[Job]:
    """Of jobs of one holding those that `visible_jobs` are; the person by id, or by a value of a prepared query."""
    if role in (Role.MANAGER, Role.VIEWER):
        return jobs
    own, free = _given(person)
    crews = CrewMember.objects.filter(person_id=person)
    everywhere = crews.filter(~Exists(CrewProperty.objects.filter(crew_id=OuterRef("crew_id"))))
    listed = CrewProperty.objects.filter(crew_id__in=crews.values("crew_id")).values("property_id")
    return jobs.filter(own | free & (Q(Exists(everywhere)) | Q(plot__property_id__in=listed)))


def own_jobs(jobs: QuerySet[Job], role: str, person: Any) -> QuerySet[Job]:
    """Of jobs of one holding those that are somebody's to do: given to them or their crews, or given to nobody and
    theirs to see."""
    own, free = _given(person)
    return jobs_seen(jobs, role, person).filter(own | free)


def _given(person: Any) -> tuple[Q, Q]:
    """(given to the person or one of their crews, given to nobody)."""
    here = Assignment.objects.filter(job_id=OuterRef("pk"), state=AssignmentState.ACTIVE)
    crews = CrewMember.objects.filter(person_id=person).values("crew_id")
    return Q(Exists(here.filter(Q(person_id=person) | Q(crew_id__in=crews)))), ~Q(Exists(here))


def may_report(person: Person, job: Job) -> bool:
    """Whether a person may report on a job: who sees it may, and who held it once may later."""
    if person.role == Role.VIEWER:
        return False
    if visible_jobs(person).filter(pk=job.pk).exists():
        return True
    crews = CrewMember.objects.filter(person=person).values("crew_id")
    return Assignment.objects.filter(Q(person=person) | Q(crew_id__in=crews), job=job).exists()
