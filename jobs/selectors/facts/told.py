"""What was reported of jobs, folded, and what was seen on plots."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

from jobs.folding import Folded, ReportFact, fold
from jobs.graph.data import Moment, Skip
from jobs.minutes import ceil_minute, day_end, day_start, floor_minute, local_day
from jobs.models import Observation, Report
from jobs.selectors.facts.rows import JobRow, LinkRow, few

NOT_YET = "not_"
"""What an observation's name begins with where a look was in vain: not_emerged."""

NOTHING = Folded()


def folded_reports(holding_id: int, rows: Mapping[int, JobRow], **jobs: Collection[int] | None) -> dict[int, Folded]:
    """What the reports say of each of the jobs, `rows`; `jobs` are the filters that find these jobs' reports."""
    reports = _reports(holding_id, rows, jobs)
    return {job: _fold(row, reports[job]) if job in reports else NOTHING for job, row in rows.items()}


def _fold(row: JobRow, reports: list[ReportFact]) -> Folded:
    return fold(
        reports,
        duration=row.duration,
        acres=row.acres,
        skip_effect=Skip(row.skip_effect),
        not_yet={NOT_YET + kind for kind in row.details.get("observes", {}).values()},
    )


def _reports(
    holding_id: int, rows: Mapping[int, JobRow], jobs: Mapping[str, Collection[int] | None]
) -> dict[int, list[ReportFact]]:
    found: dict[int, list[ReportFact]] = defaultdict(list)
    columns = (
        "id", "job_id", "kind", "happened_at", "day_only", "received_at", "outcome", "acres", "reason", "corrects_id",
    )  # fmt: skip
    query = Report.objects.filter(holding_id=holding_id, job__isnull=False, **few(**jobs))
    for pk, job, kind, happened, day_only, received, outcome, acres, reason, corrects in query.order_by(
        "id"
    ).values_list(*columns):
        if job not in rows:
            continue
        at = moment(happened, received, day_only, rows[job].zone)
        found[job].append(ReportFact(pk, kind, at, ceil_minute(received), outcome, acres, reason, corrects))
    return found


def moment(happened: datetime, received: datetime, day_only: bool, zone: str) -> Moment:
    """Both readings of a reported instant: a day alone counts from its start, or until its end or receipt (D7)."""
    if not day_only:
        return Moment(floor_minute(happened), ceil_minute(happened))
    day = local_day(zone, floor_minute(happened))
    return Moment(day_start(zone, day), min(day_end(zone, day), ceil_minute(received)))


Seen = dict[tuple[int, str], list[tuple[int, int | None, int]]]


def observations(holding_id: int, rows: Mapping[int, JobRow], links: Iterable[LinkRow]) -> Seen:
    """By (plot, kind): what was seen, oldest first, without what a later report took back."""
    plots = {rows[link.head].plot for link in links if link.confirm}
    taken_back = set(
        Report.objects.filter(holding_id=holding_id, corrects__isnull=False).values_list("corrects_id", flat=True)
    )
    found: Seen = defaultdict(list)
    query = Observation.objects.filter(holding_id=holding_id, **few(plot_id__in=plots)).order_by("at", "id")
    for pk, plot, season, kind, at, report in query.values_list(
        "id", "plot_id", "season_id", "kind", "at", "report_id"
    ):
        if report not in taken_back:
            found[plot, kind].append((ceil_minute(at), season, pk))
    return found


def confirmed(seen: Seen, confirm: str, head: JobRow, tail: JobRow, done: Folded) -> int | None:
    """The first observation of the kind in the season of either job, not older than the predecessor's fact."""
    if not confirm:
        return None
    since = done.finished or done.started
    for at, season, _ in seen.get((head.plot, confirm), ()):
        if season in (None, head.season, tail.season) and since is not None and at >= since.early:
            return at
    return None


def last_seen(seen: Seen, kind: str, head: JobRow, tail: JobRow) -> int | None:
    found = [at for at, season, _ in seen.get((head.plot, kind), ()) if season in (None, head.season, tail.season)]
    return found[-1] if found else None
