"""Which jobs a person may see and report on."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from core.models import CrewMember, Person, Role
from jobs.models import Assignment, AssignmentState, Job
from plots.models import CrewProperty


def visible_jobs(person: Person) -> QuerySet[Job]:
    """The jobs a person may see: managers and viewers all of the holding; helpers their own, those of their crews, and
    the unassigned ones at the properties that their crews look after."""
    jobs = Job.objects.filter(holding_id=person.holding_id)
    if person.role in (Role.MANAGER, Role.VIEWER):
        return jobs
    active = Assignment.objects.filter(holding_id=person.holding_id, state=AssignmentState.ACTIVE)
    crews = list(CrewMember.objects.filter(person=person).values_list("crew_id", flat=True))
    own = Q(pk__in=active.filter(Q(person=person) | Q(crew_id__in=crews)).values("job_id"))
    listed = CrewProperty.objects.filter(crew_id__in=crews)
    everywhere = set(crews) - set(listed.values_list("crew_id", flat=True))
    here = Q() if everywhere else Q(plot__property_id__in=listed.values("property_id"))
    free = ~Q(pk__in=active.values("job_id")) & here if crews else Q(pk__in=[])
    return jobs.filter(own | free)


def may_report(person: Person, job: Job) -> bool:
    """Whether a person may report on a job: who sees it may, and who held it once may later."""
    if person.role == Role.VIEWER:
        return False
    if visible_jobs(person).filter(pk=job.pk).exists():
        return True
    crews = CrewMember.objects.filter(person=person).values("crew_id")
    return Assignment.objects.filter(Q(person=person) | Q(crew_id__in=crews), job=job).exists()
