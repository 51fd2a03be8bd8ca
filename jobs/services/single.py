"""Add a single job to a plot, and change a job's own figures and days."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from django.db import transaction
from django.db.models import F

from core.errors import Refused
from core.models import Person
from core.services.facts import lock_graph
from core.services.rows import save_row
from jobs.models import Job, Need, NeedKind
from jobs.reference import reference
from jobs.sequences.reference import HAZARDS, Operation
from jobs.services.links import check_durations
from jobs.windows.ignition import BurnPlan


def add_job(*, job: Job, by: Person | None, fields: Iterable[str] = ()) -> Job:
    """Store a job that belongs to no sequence, with what its field operation usually takes along.

    Fire asks for the skill of its operation, as it does in a sequence. The job is a component of its own.

    Raises:
        Refused: the operation or a hazard is not known, or a rule of the table.
    """
    operation = reference().operations.get(job.operation)
    if operation is None:
        known = ", ".join(sorted(reference().operations))
        raise Refused(
            f"'{job.operation}' is no field operation. Give one of: {known}.", code="invalid", field="operation"
        )
    unknown = sorted(set(job.hazards) - set(HAZARDS))
    if unknown:
        raise Refused(
            f"'{unknown[0]}' is no hazard. Give some of: {', '.join(HAZARDS)}.", code="invalid", field="hazards"
        )
    with transaction.atomic():
        lock_graph(job.holding_id)
        save_row(row=job, by=by, fields=fields)
        Job.objects.filter(pk=job.pk).update(component=job.pk)
        job.component = job.pk
        Need.objects.bulk_create(_usual_needs(job, operation))
    return job


def _usual_needs(job: Job, operation: Operation) -> list[Need]:
    named = [(NeedKind.MACHINE, name) for name in operation.machines]
    if "fire" in operation.hazards:
        named += [(NeedKind.SKILL, name) for name in operation.skills]
    return [Need(holding_id=job.holding_id, job=job, kind=kind, name=name) for kind, name in named]


def change_job(*, job: Job, by: Person | None, fields: Collection[str]) -> Job:
    """Store the named `fields` of a job; its version rises by one. A duration that somebody typed stays from then on.

    Raises:
        Refused: a rule of the table, or a duration by which the fixed lags around the job contradict each other
            (`contradiction`).
    """
    with transaction.atomic():
        lock_graph(job.holding_id)
        if "duration_min" in fields and by is not None:
            details = job.details if "details" in fields else _details_now(job)
            job.details = {**details, "work": {**details.get("work", {}), "typed": True}}
            fields = [*fields, "details"]
        save_row(row=job, by=by, fields=fields)
        if "duration_min" in fields:
            check_durations(job)
        Job.objects.filter(pk=job.pk).update(version=F("version") + 1)
        job.refresh_from_db(fields=["version"])
    return job


def set_split(*, job: Job, by: Person, may_split: bool, least_piece_min: int = 0) -> Job:
    """Say whether a job may be done in pieces, and of how many minutes at least."""
    with transaction.atomic():
        lock_graph(job.holding_id)
        details = _details_now(job)
        work = {**details.get("work", {}), "may_split": may_split, "least_piece_min": least_piece_min}
        job.details = {**details, "work": work}
        return change_job(job=job, by=by, fields=["details"])


def set_burn_plan(*, job: Job, by: Person, plan: Mapping[str, Any]) -> Job:
    """Keep the figures of a unit's plan with its burn: burn-out, mop-up, briefing, least crew, and hours in
    prescription that somebody typed, as minutes.

    Raises:
        Refused: the job is no burn, or the figures cannot be.
    """
    if job.operation != "burn":
        raise Refused("This job is no burn, so it has no burn plan.", code="no_burn")
    try:
        BurnPlan(*(plan[name] for name in ("burn_out_min", "mop_up_min", "briefing_min", "least_crew")))
    except ValueError as error:
        raise Refused(str(error), code="invalid") from error
    with transaction.atomic():
        lock_graph(job.holding_id)
        job.details = {**_details_now(job), "burn_plan": dict(plan)}
        return change_job(job=job, by=by, fields=["details"])


def _details_now(job: Job) -> dict[str, Any]:
    """What is kept with the job, whatever was written since it was read; call it once the graph is locked."""
    found: dict[str, Any] | None = Job.objects.filter(pk=job.pk).values_list("details", flat=True).first()
    return dict(job.details) if found is None else found
