"""How long work takes on a plot by what was reported there, once there are three times of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from datetime import datetime
from statistics import median

from django.db import transaction
from django.db.models import Q

from core.errors import Refused
from core.services.facts import touch
from jobs.models import Job, Report, ReportKind
from jobs.selectors.facts.rows import few
from jobs.services.single import change_job

LEAST, LATEST = 3, 5
"""So many times are needed; the middle one of the latest so many counts (a setting of ours)."""

Place = tuple[int, str]
"""A plot and a field operation."""


def learn_durations(*, holding_id: int, places: Collection[Place]) -> int:
    """Give jobs not begun on these plots the time that such work took there; returns how many changed.

    A time is from the report "start" of a job to its one report "done" within 24 h, both with the hour; it
    counts by acre where the acres are known. Fewer than three, or a report withdrawn, and the jobs have their usual
    duration again. What a manager typed stays, and so does a duration without which fixed waits would contradict."""
    if not places:
        return 0
    paces = _paces(holding_id, places)
    wanted = Q(details__work__has_key="usual_min")
    if paces:
        wanted |= Q(plot_id__in={plot for plot, _ in paces}, operation__in={operation for _, operation in paces})
    plots = few(plot_id__in={plot for plot, _ in places})
    jobs = Job.objects.filter(wanted, holding_id=holding_id, called_off_at=None, reports__isnull=True, **plots)
    changed = [job.pk for job in jobs.order_by("id") if (job.plot_id, job.operation) in places and _set(job, paces)]
    if changed:
        touch(holding_id, [f"job:{pk}" for pk in changed])
    return len(changed)


def _set(job: Job, paces: dict[Place, tuple[float, float | None]]) -> bool:
    work = job.details.get("work", {})
    usual = work.get("usual_min", job.duration_min)
    minutes = usual
    pace = paces.get((job.plot_id, job.operation))
    if pace is not None:
        whole, by_acre = pace
        minutes = max(1, round(by_acre * job.acres if by_acre is not None and job.acres else whole))
    if work.get("typed") or minutes == job.duration_min:
        return False
    kept = {name: value for name, value in work.items() if name != "usual_min"}
    work = kept if pace is None else {**kept, "usual_min": usual}
    job.duration_min, job.details = minutes, {**job.details, "work": work}
    try:
        with transaction.atomic():
            change_job(job=job, by=None, fields=["duration_min", "details"])
    except Refused:  # the waits around it contradict a job so long, so the usual figure stays
        return False
    return True


def _paces(holding_id: int, places: Collection[Place]) -> dict[Place, tuple[float, float | None]]:
    """By plot and operation the middle of the latest times: (minutes of a whole job, minutes an acre)."""
    replaced = Report.objects.filter(holding_id=holding_id, corrects__isnull=False).values("corrects_id")
    here = Report.objects.filter(
        holding_id=holding_id,
        job__operation__in={operation for _, operation in places},
        **few(plot_id__in={plot for plot, _ in places}),
    ).exclude(pk__in=replaced)
    rows = here.filter(
        kind__in=(ReportKind.START, ReportKind.DONE, ReportKind.COULD_NOT),
        job__in=here.filter(kind=ReportKind.START, day_only=False).values("job_id"),
    )
    told: dict[int, list[tuple[str, datetime, bool, float | None]]] = defaultdict(list)
    where: dict[int, Place] = {}
    acres: dict[int, float | None] = {}
    columns = ("job_id", "job__plot_id", "job__operation", "job__acres", "kind", "happened_at", "day_only", "acres")
    for job, plot, operation, size, kind, at, day_only, done in rows.order_by("happened_at", "id").values_list(
        *columns
    ):
        if (plot, operation) in places:
            where[job], acres[job] = (plot, operation), done or size
            told[job].append((kind, at, day_only, done))
    times: dict[Place, list[tuple[datetime, float, float | None]]] = defaultdict(list)
    for job, reports in told.items():
        if [kind for kind, *_ in reports] != [ReportKind.START, ReportKind.DONE] or any(row[2] for row in reports):
            continue
        began, ended = reports[0][1], reports[1][1]
        minutes = (ended - began).total_seconds() / 60
        if 0 < minutes < 24 * 60:
            size = acres[job]
            times[where[job]].append((ended, minutes, minutes / size if size else None))
    found = {}
    for place, listed in times.items():
        latest = sorted(listed)[-LATEST:]
        if len(latest) >= LEAST:
            by_acre = [rate for *_, rate in latest if rate is not None]
            found[place] = (
                median(minutes for _, minutes, _ in latest),
                median(by_acre) if len(by_acre) == len(latest) else None,
            )
    return found
