"""The lines of a reminder: what to do, where, until when, what to bring, what to heed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from core.models import Holding
from jobs.models import Job
from jobs.reference import reference
from jobs.selectors.answers import cautions
from jobs.sentences import Names


def opened_lines(
    holding: Holding, jobs: Sequence[int], rows: Mapping[int, Mapping[str, Any]]
) -> dict[int, dict[str, Any]]:
    """By job: {"title", "lines"} of the news that it opened; `rows` are the reckonings just computed."""
    found = {}
    known = Job.objects.filter(pk__in=jobs).select_related("plot__property").order_by("id")
    for job in known:
        names = Names(holding.zone, 0)
        late = rows[job.pk]["latest_start"]
        where = f"{job.plot.name}, {job.plot.property.name}"
        lines = [f"{job.title}. {where}.", job.instruction]
        lines.append(f"Start by {names.day(int(late.timestamp()) // 60)}." if late else "No deadline.")
        if job.plot.property.access_notes:
            lines.append(f"Way in: {job.plot.property.access_notes}")
        operation = reference().operations.get(job.operation)
        hazards = dict.fromkeys([*(operation.hazards if operation else ()), *job.hazards])
        for caution in cautions(hazards):
            lines += [*caution["lines"], caution["decides"]]
        found[job.pk] = {"title": f"Open: {job.title}, {where}", "lines": [line for line in lines if line]}
    return found
