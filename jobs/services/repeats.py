"""The next occurrence of a job that comes round again, counted from the last one done; missed ones do not pile up."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from django.db import transaction

from core.models import Holding
from core.services.facts import lock_graph, touch
from jobs.minutes import floor_minute, local_day
from jobs.models import Job, Need
from jobs.services.components import MOST, batched


def make_occurrences(*, holding: Holding, jobs: Sequence[int]) -> int:
    """Make the next occurrence of every repeating job among `jobs` that was done or skipped and has no successor yet.

    Returns how many were made. Call it in the transaction that stores how the jobs ended: an end is news once, and a
    walk that stopped between the two would make none. The next one opens `every_days` after the day the last was done,
    until the rule's day or count; it is tied to its branch alone, its predecessors having been met by the first."""
    ended: list[Job] = []
    for some in batched(sorted(jobs), MOST):
        rows = Job.objects.filter(pk__in=some, holding=holding, repeat__isnull=False)
        ended += rows.select_related("plot__property", "reckoning", "season").order_by("id")
    made = 0
    for job in ended:
        rule = job.repeat or {}
        at = job.reckoning.finished_at
        if at is None:
            continue
        zone = job.plot.property.zone or holding.zone
        first = local_day(zone, floor_minute(at)) + timedelta(days=rule["every_days"])
        last = date.fromisoformat(rule["until"]) if rule.get("until") else job.last_day
        if (last is not None and first > last) or (rule.get("at_most") and job.occurrence >= rule["at_most"]):
            continue
        made += _make(holding, job, first, last)
    return made


def _make(holding: Holding, job: Job, first: date, last: date | None) -> int:
    with transaction.atomic():
        lock_graph(holding.pk)
        same = Job.objects.filter(season=job.season, plot=job.plot, step=job.step, occurrence=job.occurrence + 1)
        if same.exists():
            return 0
        needs = list(Need.objects.filter(job=job).order_by("id"))
        old = job.pk
        job.pk, job._state.adding = None, True
        job.occurrence += 1
        job.first_day, job.last_day, job.version = first, last, 1
        job.save()
        if job.branch_id is None:  # a branch ties its jobs, so there the component is that of the last one
            Job.objects.filter(pk=job.pk).update(component=job.pk)
        for need in needs:
            need.pk, need.job = None, job
        Need.objects.bulk_create(needs)
        touch(holding.pk, {f"job:{old}", f"job:{job.pk}"})
        return 1
