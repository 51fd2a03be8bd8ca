"""Give a job to a person or a crew by hand, and end that. Under the graph's lock nobody is given away twice at once."""

from __future__ import annotations

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q

from core.clock import now_at
from core.errors import Refused
from core.models import Certificate, CrewMember, Person, Role
from core.services.facts import lock_graph, touch
from core.services.rows import check_open, check_same_holding, log, save_row
from jobs.law.data import SPRAYS
from jobs.law.people import handler_lacks, handler_of
from jobs.models import Assignment, AssignmentState, Job, JobState, Reckoning

GIVEN = ("job", "person", "crew", "day", "starts", "ends")


def assign_job(
    *,
    holding_id: int,
    job_id: int,
    by: Person | None,
    person_id: int | None = None,
    crew_id: int | None = None,
    day: date | None = None,
    starts: time | None = None,
    ends: time | None = None,
) -> Assignment:
    """Give a job to one person or one crew, perhaps for a day and hours of it (in the property's zone).

    Raises:
        NotFound: the job, person or crew is not in the holding.
        Refused: the job is over (`over`), the person only looks or is inactive (`invalid`), is no handler of
            pesticide (`handler`), somebody would be at two places at one time (`conflict`), or a rule of the table.
    """
    row = Assignment(
        holding_id=holding_id, job_id=job_id, person_id=person_id, crew_id=crew_id, day=day, starts=starts, ends=ends
    )
    with transaction.atomic():
        lock_graph(holding_id)
        check_same_holding(row, holding_id)
        _check_job(row.job)
        _check_person(row.person)
        _check_handlers(row)
        _check_hours(row)
        save_row(row=row, by=by, fields=GIVEN)
    return row


def end_assignment(*, assignment: Assignment, by: Person | None, now: datetime) -> None:
    """The job is nobody's again; the row stays, as the right to report late hangs on it. Twice changes nothing."""
    with transaction.atomic():
        lock_graph(assignment.holding_id)
        check_open(assignment.holding_id)
        rows = Assignment.objects.filter(pk=assignment.pk, state=AssignmentState.ACTIVE)
        if rows.update(state=AssignmentState.ENDED, ended_at=now):
            log(holding_id=assignment.holding_id, by=by, verb="ended", row=assignment, change={})
            touch(assignment.holding_id, assignment.fact_keys())


def _check_job(job: Job) -> None:
    over = Reckoning.objects.filter(job=job, state__in=(JobState.DONE, JobState.CALLED_OFF)).exists()
    if over or job.called_off_at is not None:
        raise Refused(f"{job.title} is done or called off, so nobody is sent there.", code="over", field="job")


def _check_person(person: Person | None) -> None:
    if person is None:
        return
    if person.role == Role.VIEWER:
        raise Refused(f"{person.name} is a viewer, who looks and does no work.", code="invalid", field="person")
    if not person.active:
        raise Refused(f"{person.name} is not active any more.", code="invalid", field="person")


def _check_handlers(new: Assignment) -> None:
    """Who sprays is of age and trained this year, or of the owner's immediate family (40 CFR 170), on the day itself.

    What nobody wrote down counts as not so: certificates tell it, and no birthday is kept."""
    if new.job.operation not in SPRAYS:
        return
    day = new.day or now_at(new.holding).astimezone(ZoneInfo(new.holding.zone)).date()
    valid = Certificate.objects.filter(person__in=_people(new), valid_from__lte=day)
    valid = valid.filter(Q(valid_to=None) | Q(valid_to__gte=day))
    held: dict[int, set[str]] = {person: set() for person in _people(new)}
    for person, skill in valid.values_list("person_id", "skill__name"):
        held[person].add(skill.lower())
    for person in sorted(held):
        lacks = handler_lacks(handler_of(held[person]))
        if lacks:
            name = Person.objects.values_list("name", flat=True).get(pk=person)
            raise Refused(
                f"{name} lacks for spraying on {day.day} {day:%b %Y}: {', '.join(lacks)}."
                " Add the certificate, or send another.",
                code="handler",
                field="person",
                lacks=lacks,
            )


def _check_hours(new: Assignment) -> None:
    """The database's rule, with the names it cannot say: nobody is at two places at one time, alone or in a crew."""
    if new.day is None or new.starts is None or new.ends is None:
        return
    others = Assignment.objects.filter(
        holding_id=new.holding_id, state=AssignmentState.ACTIVE, day=new.day, starts__lt=new.ends, ends__gt=new.starts
    ).exclude(pk=new.pk)
    going = _people(new)
    for other in others.select_related("job__plot").order_by("id"):
        both = sorted(going & _people(other))
        if both:
            name = Person.objects.values_list("name", flat=True).get(pk=both[0])
            where = f"{other.job.title}, {other.job.plot.name}"
            raise Refused(
                f"{name} is at {where} from {other.starts:%H:%M} to {other.ends:%H:%M} on that day."
                " Give other hours or another person, or end that assignment.",
                code="conflict",
                field="starts",
                assignment=other.pk,
            )


def _people(assignment: Assignment) -> set[int]:
    if assignment.person_id is not None:
        return {assignment.person_id}
    if assignment.crew_id is None:
        return set()
    return set(CrewMember.objects.filter(crew_id=assignment.crew_id).values_list("person_id", flat=True))
