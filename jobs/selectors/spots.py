"""Which sprays of a day are a spot application: the areas of one local day together are under a tenth of an acre."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from core.models import Holding
from jobs.law.data import SPRAYS
from jobs.law.zones import is_spot
from jobs.minutes import day_end, day_start, floor_minute, instant, local_day
from jobs.models import Report, ReportKind

AREAS = (ReportKind.DONE, ReportKind.COULD_NOT)


def spot_applications(holding: Holding, reports: Iterable[Report]) -> dict[int, bool]:
    """By report of a spray that says what was done: whether it counts as a spot application (7 CFR 110.3(b)).

    All that the holding sprayed on that day counts together, by the day of each place; a report without acres stands
    for what its job has, and acres that nobody knows are no spot. What another report replaced counts no more."""
    mine = [report for report in reports if report.kind in AREAS and _is_spray(report)]
    if not mine:
        return {}
    days = {local_day(holding.zone, floor_minute(report.happened_at)) for report in mine}
    first, last = day_start(holding.zone, min(days)), day_end(holding.zone, max(days))
    rows = Report.objects.filter(
        holding=holding, kind__in=AREAS, job__operation__in=SPRAYS, happened_at__gte=instant(first - DAY),
        happened_at__lt=instant(last + DAY),
    )  # fmt: skip
    replaced = set(Report.objects.filter(holding=holding, corrects__isnull=False).values_list("corrects", flat=True))
    areas: dict[date, list[float | None]] = defaultdict(list)
    for report in rows.select_related("job", "plot__property").order_by("id"):
        if report.pk not in replaced and (report.kind == ReportKind.DONE or report.acres is not None):
            areas[_day(holding, report)].append(_acres(report))
    return {report.pk: is_spot(areas[_day(holding, report)]) for report in mine if report.pk not in replaced}


DAY = 1440


def _is_spray(report: Report) -> bool:
    return report.job is not None and report.job.operation in SPRAYS


def _day(holding: Holding, report: Report) -> date:
    return local_day(report.plot.property.zone or holding.zone, floor_minute(report.happened_at))


def _acres(report: Report) -> float | None:
    return report.acres if report.acres is not None or report.job is None else report.job.acres
