"""Stands that water was over: presumed lost until somebody has seen them; what hangs on the stand waits for that look.

Water over a plot is told by a report from the ground ("under water") or by the gauge of the property at or above the
plot's own level. A flood counts for what was sown before it and not finished; it ends with a stand check or with
somebody seeing the stand, whatever they saw: what follows then is a matter of outcomes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import Any

from core.models import Holding
from jobs.facts import Bound
from jobs.folding import Folded
from jobs.graph.data import Arc
from jobs.law.data import CROPS_SOWN
from jobs.minutes import ceil_minute, floor_minute, instant
from jobs.models import Job, Observation, Report
from jobs.selectors.facts.one_job import DESK
from jobs.selectors.facts.rows import JobRow, few, job_rows
from jobs.selectors.facts.told import folded_reports
from plots.models import DayKind, Plot, PropertyGauge, Reading

WATER = "ground_water"
CHECK = "check_stand"
SEEN = frozenset({"emerged", "seedlings", "regrowth", "stand"})
"""Observations that somebody made of living plants."""
NOT_OF_THE_STAND = DESK | {"look", CHECK, "check_fence", "open_fence", "patrol", "clear"}
"""What may go on while nobody knows whether the stand lives: looks, desk work, taking down and clearing."""
SOURCE = "common-practice"


def lost_stands(
    holding: Holding, rows: Mapping[int, JobRow], folded: Mapping[int, Folded], arcs: Iterable[Arc]
) -> dict[int, Bound]:
    """By job that hangs on a stand presumed lost: the bound that holds it until somebody has looked."""
    sown = {
        job: told.finished.early
        for job, row in rows.items()
        if row.operation in CROPS_SOWN and (told := folded[job]).finished is not None
    }
    waiting = _hanging_on(sown, rows, folded, arcs) if sown else {}
    if not waiting:
        return {}
    plots = {rows[job].plot for job in sown}
    floods = floods_on(holding, plots, min(sown.values()))
    if not floods:
        return {}
    looks = _looks(holding, set(floods))
    found = {}
    for job, planting in sorted(waiting.items()):
        plot = rows[job].plot
        over = [(at, inputs) for at, inputs in floods.get(plot, ()) if at >= sown[planting]]
        if not over:
            continue
        at, inputs = max(over, key=lambda one: one[0])
        if any(seen >= at for seen in looks[plot]):
            continue
        check = _check(rows, folded, rows[planting])
        found[job] = Bound(
            "stand", f"flood:{plot}", at, source=SOURCE, report="stand", job=check,
            inputs=inputs | {"since": at, "due": at, "sown": planting, "plot": plot},
        )  # fmt: skip
    return found


def _hanging_on(
    sown: Mapping[int, int], rows: Mapping[int, JobRow], folded: Mapping[int, Folded], arcs: Iterable[Arc]
) -> dict[int, int]:
    """By open job on the same plot the sowing that it follows, the latest in time, however many jobs lie between.

    `sown` are the instants of the sowings by job."""
    after: dict[int, list[int]] = defaultdict(list)
    for arc in arcs:
        after[arc.tail].append(arc.head)
    found: dict[int, int] = {}
    for planting in sorted(sown, key=lambda job: (sown[job], job)):
        seen, reached = {planting}, [planting]
        while reached:
            for head in after[reached.pop()]:
                if head in seen:
                    continue
                seen.add(head)
                reached.append(head)
                row, told = rows[head], folded[head]
                still = told.finished is None and told.skipped is None
                mine = row.plot == rows[planting].plot and row.operation not in NOT_OF_THE_STAND
                if still and mine and row.operation not in CROPS_SOWN:
                    found[head] = planting
    return found


def floods_on(holding: Holding, plots: Collection[int], since: int) -> dict[int, list[tuple[int, dict[str, Any]]]]:
    """By plot the instants since a minute at which it was under water, each with what told of it. Of a rise of the
    river the last reading over the plot counts: the look has to come after the water."""
    found: dict[int, list[tuple[int, dict[str, Any]]]] = defaultdict(list)
    taken_back = Report.objects.filter(holding_id=holding.pk, corrects__isnull=False).values("corrects_id")
    told = Observation.objects.filter(holding_id=holding.pk, kind=WATER, **few(plot_id__in=plots))
    for plot, at in told.exclude(report__in=taken_back).order_by("at", "id").values_list("plot_id", "at"):
        if plot in plots and ceil_minute(at) >= since:
            found[plot].append((ceil_minute(at), {"by": "report"}))
    levels = Plot.objects.filter(holding_id=holding.pk, flood_ft__isnull=False, **few(pk__in=plots))
    low = [(pk, place, ft or 0.0) for pk, place, ft in levels.values_list("pk", "property_id", "flood_ft")]
    low = sorted(one for one in low if one[0] in plots)
    if low:
        read = _readings_over({place for _, place, _ in low}, min(ft for *_, ft in low), since)
        for plot, place, level in low:
            over = next(((at, feet) for at, feet in reversed(read.get(place, ())) if feet >= level), None)
            if over is not None:
                found[plot].append((over[0], {"by": "gauge", "stage_ft": over[1], "level_ft": level}))
    return dict(found)


def _readings_over(places: set[int], level: float, since: int) -> dict[int, list[tuple[int, float]]]:
    """By property the readings of its gauge at or above a level since a minute, in the order of time."""
    sites: dict[str, list[int]] = defaultdict(list)
    links = PropertyGauge.objects.filter(property_id__in=sorted(places)).order_by("property_id")
    for place, site in links.values_list("property_id", "site"):
        sites[site].append(place)
    rows = Reading.objects.filter(
        gauge__site__in=sorted(sites), kind=DayKind.OBSERVED, feet__gte=level, at__gte=instant(since)
    )
    found: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for site, at, feet in rows.order_by("at", "id").values_list("gauge__site", "at", "feet"):
        for place in sites[site]:
            found[place].append((floor_minute(at), feet))
    return found


def _looks(holding: Holding, plots: set[int]) -> dict[int, list[int]]:
    """By plot the instants at which somebody looked at the stand: a stand check done, or living plants seen."""
    found: dict[int, list[int]] = defaultdict(list)
    checks = Job.objects.filter(holding=holding, plot_id__in=plots, operation=CHECK, reports__isnull=False)
    here = job_rows(holding, jobs=set(checks.values_list("pk", flat=True)))
    for job, told in folded_reports(holding.pk, here, job__in=here.keys()).items():
        if told.finished is not None:
            found[here[job].plot].append(told.finished.late)
    taken_back = Report.objects.filter(holding_id=holding.pk, corrects__isnull=False).values("corrects_id")
    seen = Observation.objects.filter(holding_id=holding.pk, plot_id__in=plots, kind__in=SEEN)
    for plot, at in seen.exclude(report__in=taken_back).values_list("plot_id", "at"):
        found[plot].append(ceil_minute(at))
    return found


def _check(rows: Mapping[int, JobRow], folded: Mapping[int, Folded], planting: JobRow) -> int | None:
    """The stand check of the season that is still to be done, the first; None where there is none."""
    open_checks = [
        (row.first_day or date.max, job)
        for job, row in rows.items()
        if row.operation == CHECK and row.season == planting.season and row.plot == planting.plot
        and folded[job].finished is None and row.called_off_at is None
    ]  # fmt: skip
    return min(open_checks, default=(None, None))[1]
