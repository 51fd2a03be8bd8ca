"""Who held a job once, also where assignment, crew or membership are gone: the log keeps what the tables forget."""

from __future__ import annotations

from core.models import Event, Person
from jobs.models import Job


def held_once(person: Person, job: Job) -> bool:
    """Whether the log tells that the job was given to the person, or to a crew while the person was one of it."""
    lines = Event.objects.filter(holding_id=person.holding_id)
    given = lines.filter(object="assignment", verb="added", change__job=job.pk)
    if given.filter(change__person=person.pk).exists():
        return True
    joined = list(lines.filter(object="crewmember", verb="added", change__person=person.pk))
    for line in given.filter(change__crew__in=sorted({row.change["crew"] for row in joined})).order_by("id"):
        ended = _end(line, "ended")
        for row in joined:
            left = _end(row, "removed")
            if row.change["crew"] == line.change["crew"] and row.pk < ended and line.pk < left:
                return True
    return False


def _end(line: Event, verb: str) -> float:
    """The number of the line that ends what this one began; lines are numbered as they were written."""
    later = Event.objects.filter(
        holding_id=line.holding_id, object=line.object, object_id=line.object_id, verb=verb, pk__gt=line.pk
    )
    return later.order_by("id").values_list("pk", flat=True).first() or float("inf")
