"""The rows of this room in the matrix of routes, and the things they are about."""

import uuid
from datetime import UTC, datetime
from typing import Any

from jobs.models import Assignment, Job, Reckoning
from tests.core.matrix import MANAGERS, WORKERS, Page, Row
from tests.core.world import Side

OTHER_CREW = frozenset({"other_crew"})
"""The job of a side is the first crew's, and so does not exist for a helper of another."""

ROWS: dict[str, Row] = {}


def job_of(side: Side) -> dict[str, Any]:
    return {"job_id": side.id("job")}


PAGES: dict[str, Page] = {
    "next": Page(answers={"viewer": 302}),
    "work": Page(),
    "job": Page(url=job_of, hidden=OTHER_CREW),
    "report": Page(
        roles=WORKERS,
        form=lambda own: {"client_id": str(uuid.uuid4()), "kind": "start"},
        url=job_of,
        hidden=OTHER_CREW,
        inside=302,
    ),
    "assign": Page(
        roles=MANAGERS, form=lambda own: {"to": f"person:{own.helper.pk}", "back": "work"}, url=job_of, inside=302
    ),
    "end-assignment": Page(
        roles=MANAGERS,
        form=lambda own: {"back": "work"},
        url=lambda side: {"assignment_id": side.id("assignment")},
        inside=302,
    ),
}


def grow(side: Side) -> None:
    """Add one thing of each kind of this room to a side, under the names that `ROWS` use."""
    here = {"holding": side.holding}
    plot, crew = side.things["plot"], side.things["crew"]
    job = Job.objects.create(**here, plot=plot, title="Till the ridge", operation="till", duration_min=90, acres=2.5)
    Job.objects.filter(pk=job.pk).update(component=job.pk)
    Reckoning.objects.create(**here, job=job, state="open", changed_at=datetime(2026, 4, 1, tzinfo=UTC))
    assignment = Assignment.objects.create(**here, job=job, crew=crew)
    side.things |= {"job": job, "assignment": assignment}
