"""The walk through the database: one report, one inserted edge, and one holding beside ORM, networkx and bulk_update.

Holdings are those of `holdings.make`, stored as rows. Times are of the wall: PostgreSQL works beside
this process.

One holding: 1,200 open jobs with minimal lags among many others, every one of whose stored rows is wrong before each
run. Either side reads what it needs, reckons, and in one transaction writes all 15 columns of all 1,200 rows: state,
four dates, slack, critical, last chance, look by, next window, acres done and left, finish, holds and detail with the
chain behind the earliest start. Rows are held to be equal column by column before times are.
- "ORM, networkx, bulk_update" reads instances of jobs with plot, property and season joined and reports and needs
  prefetched, of prerequisites and of reckonings; orders, passes forward and backward over a `DiGraph`; and stores with
  one `bulk_update`. It knows the rules of this holding alone: links from finish to start with fixed lags, days,
  deadlines, reports that end a job.
- "ours" is the program's walk with every rule (`load`, `walk`, `row_of`, `stored`, `save`): it also reads branches,
  materials, quiet days, contracts, consents, machines, stock, certificates, overrides, and compares before it writes.
  Windows of weather are left out: the other side has none.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import date, datetime, timedelta
from statistics import median
from typing import Any

import networkx
from django.db import connection, transaction

from core.models import Graph, Holding, Person, Role
from jobs.graph.batch import Columns
from jobs.graph.batch.columns import FIXED, RELATIONS
from jobs.graph.data import FAR
from jobs.minutes import day_end, day_start, floor_minute, instant, local_day
from jobs.models import Branch, Job, Prerequisite, Reckoning, Report, Season
from jobs.reckoning import remember, row_of
from jobs.selectors.facts import load
from jobs.selectors.windows import job_windows
from jobs.services import saving
from jobs.services.links import add_link, remove_link
from jobs.services.reports import NewReport, store_report
from jobs.services.walking import walk_holding
from jobs.walk import walk
from plots.models import Day, Normal, Plot, Property, PropertySeries, Series
from tests.bench import holdings
from tests.bench.timing import Say, row, timed

ZONE = "America/Chicago"
OURS, AMONG = 1_200, 33_600
"""Jobs of the holding that is walked, and at least of those beside it: 48,000 prerequisites."""

ROUNDS = 9
FIRST = floor_minute(datetime.fromisoformat("2026-04-16T05:00:00+00:00"))
"""The local midnight that stands for the bench's day; everything is moved there from `holdings.TODAY`."""

WRONG = {name: None for name, kind in saving.COLUMNS if kind == "timestamptz"} | {
    "state": "called_off",
    "slack_min": None,
    "critical": False,
    "acres_done": 9.0,
    "acres_left": 9.0,
    "holds": [],
    "detail": {},
}

NOW = instant(FIRST + 12 * 60)
assert NOW is not None
HEAT = "86/50"


def stored(sizes: list[int], rows: list[dict[str, Any]], ratios: dict[str, float], say: Say) -> bool:
    """Add the rows of the database; whether what was compared was equal."""
    series = weather()
    equal = True
    small, large = min(sizes), max(sizes)
    reports: dict[int, float] = {}
    edges: dict[int, float] = {}
    for size in sorted({small, large}):
        holding = fill(holdings.make(size, size + 2, real=True), f"Holding of {size}", series)
        edges[size] = one_edge(holding)
        reports[size], same = one_report(holding)
        equal &= same
    for what, times in (("report: load, walk, save", reports), ("edge: lock, check, save", edges)):
        for size, taken in times.items():
            rows.append(row(size, f"one {what}", taken, taken / times[small], "equal rows" if times is reports else ""))
        if large > small:
            ratios[f"one {what.partition(':')[0]}, {large} / {small}"] = round(times[large] / times[small], 2)
    if large < AMONG:
        fill(holdings.make(AMONG, 11, real=True), "Others", series)
    return equal & one_holding(series, rows, ratios, say)


def weather() -> Series:
    """Two years of invented days and their normals."""
    series = Series.objects.create(source="bench", place="invented", zone=ZONE)
    today = local_day(ZONE, FIRST)
    days = [today - timedelta(days=back) for back in range(1, 400)]
    Day.objects.bulk_create(Day(series=series, date=day, high_f=_high(day), low_f=_high(day) - 20) for day in days)
    year = [date(2025, 1, 1) + timedelta(days=k) for k in range(365)]
    Normal.objects.bulk_create(
        Normal(series=series, month_day=f"{day:%m-%d}", high_f=_high(day), low_f=_high(day) - 20) for day in year
    )
    return series


def _high(day: date) -> float:
    return 88 - abs(day.timetuple().tm_yday - 200) * 0.27


def _day(minute: int) -> date | None:
    """The local day of an instant of the columns; a last day is the one that its end closes."""
    return None if abs(minute) >= FAR else local_day(ZONE, minute - holdings.TODAY + FIRST)


def fill(columns: Columns, name: str, series: Series) -> Holding:
    """Store a holding; its walk counts as done, with rows that say nothing."""
    holding = Holding.objects.create(name=name, zone=ZONE)
    graph = Graph.objects.create(holding=holding)
    manager = Person.objects.create(holding=holding, name="Manager", role=Role.MANAGER)
    labels = sorted(set(columns.component))
    places = Property.objects.bulk_create(
        Property(holding=holding, name=f"Property {k}", latitude=39.0, longitude=-95.0, zone=ZONE)
        for k in range(len(labels) // 20 + 1)
    )
    PropertySeries.objects.bulk_create(
        PropertySeries(holding=holding, property=place, rank=1, series=series) for place in places
    )
    plots = Plot.objects.bulk_create(
        (
            Plot(holding=holding, property=places[k // 20], name=f"Plot {k}", acres_typed=2.0)
            for k in range(len(labels))
        ),
        batch_size=2_000,
    )
    today = local_day(ZONE, FIRST)
    seasons = Season.objects.bulk_create(
        (
            Season(holding=holding, plot=plot, label="Bench", year=today.year, first_day=today, last_day=today)
            for plot in plots
        ),
        batch_size=2_000,
    )
    of = dict(zip(labels, zip(plots, seasons, strict=True), strict=True))
    branches = Branch.objects.bulk_create(
        (
            Branch(holding=holding, season=of[b.season][1], key=f"way-{b.order}", group=b.group or "", order=b.order)
            for b in columns.branches
        ),
        batch_size=2_000,
    )
    branch_of = {k: branches[number - 1] for k, number in zip(columns.branched, columns.branch, strict=True)}
    base = (Job.objects.order_by("-pk").values_list("pk", flat=True).first() or 0) + 1
    smallest: dict[int, int] = {}
    for k, label in enumerate(columns.component):
        smallest.setdefault(label, base + k)
    jobs = Job.objects.bulk_create(
        (
            Job(
                pk=base + k,
                holding=holding,
                plot=of[columns.component[k]][0],
                season=of[columns.component[k]][1],
                branch=branch_of.get(k),
                operation="till",
                title=f"Job {k}",
                duration_min=columns.duration[k],
                first_day=_day(columns.first[k]) or date(2024, 1, 1),
                last_day=_day(columns.last[k]) or date(2030, 12, 31),
                deadline=_day(columns.deadline[k]),
                component=smallest[columns.component[k]],
            )
            for k in range(len(columns.job))
        ),
        batch_size=2_000,
    )
    Prerequisite.objects.bulk_create(
        (_prerequisite(holding, columns, k, base) for k in range(len(columns.arc))), batch_size=2_000
    )
    Report.objects.bulk_create(
        (
            Report(
                holding=holding,
                person=manager,
                client_id=uuid.UUID(int=base + k),
                job=jobs[k],
                plot=jobs[k].plot,
                kind="done",
                happened_at=instant(finish - holdings.TODAY + FIRST),
                received_at=instant(finish - holdings.TODAY + FIRST),
                body_sha256="-",
            )
            for k, finish in zip(columns.standing, columns.finish_late, strict=True)
        ),
        batch_size=2_000,
    )
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO jobs_reckoning (job_id, holding_id, state, critical, acres_done, holds, detail, changed_at) "
            "SELECT id, holding_id, 'held', %s, 0, '[]', '{}', changed_at FROM jobs_job WHERE holding_id = %s",
            [False, holding.pk],
        )
        cursor.execute("ANALYZE")
    Graph.objects.filter(pk=graph.pk).update(
        walked_version=graph.facts_version, walked_at=NOW, wake_at=NOW + timedelta(hours=6)
    )
    return holding


def _prerequisite(holding: Holding, columns: Columns, k: int, base: int) -> Prerequisite:
    fixed = columns.minimum[k] == FIXED
    days = columns.minimum_amount[k] / 1440
    high = columns.maximum[k]
    return Prerequisite(
        holding=holding,
        predecessor_id=base + columns.tail[k] - 1,
        successor_id=base + columns.head[k] - 1,
        relation=RELATIONS[columns.relation[k]].value,
        min_amount=days if fixed else columns.minimum_amount[k] / 100,
        min_unit="days" if fixed else "degree_days",
        degree_days="" if fixed else HEAT,
        max_amount=None if high >= FAR else high / 1440,
        max_unit="" if high >= FAR else "days",
    )


def one_report(holding: Holding) -> tuple[float, bool]:
    """(median seconds of the walk that a report asks for, whether it left what a whole walk of it gives)."""
    manager = Person.objects.get(holding=holding)
    open_jobs = Job.objects.filter(holding=holding, reports__isnull=True, branch__isnull=True).order_by(
        "component", "id"
    )
    first: dict[int, int] = {}
    for job, component in open_jobs.order_by("component", "id").values_list("id", "component").iterator():
        first.setdefault(component, job)
        if len(first) == ROUNDS + 2:
            break
    times = []
    equal = True
    for job in first.values():
        new = NewReport(uuid.UUID(int=2**80 + job), "done", NOW - timedelta(hours=1), job=job)
        store_report(person=manager, new=new, now=NOW)
        taken, done = timed(lambda: walk_holding(holding.pk, now=NOW))
        times.append(taken)
        component = Job.objects.values_list("component", flat=True).get(pk=job)
        whole = reckoned(holding, [component], windows=True)
        equal &= job in done.changed and whole == saving.stored(holding.pk, [component])
    return median(times[2:]), equal


def reckoned(
    holding: Holding, components: list[int] | None = None, *, windows: bool = False
) -> dict[int, dict[str, Any]]:
    """The rows of a walk; without windows where they are held beside a graph library, which knows no weather."""
    assert NOW is not None
    loaded = load(holding, NOW, components)
    found = walk(loaded.facts, floor_minute(NOW))
    hours = job_windows(holding, loaded, found, NOW).by_job if windows else {}
    rows = {
        job: row_of(
            result,
            loaded.facts,
            loaded.folded[job],
            loaded.closed_branches.get(loaded.rows[job].branch or 0),
            hours.get(job),
        )
        for job, result in found.results.items()
    }
    if windows:
        remember(rows, saving.stored(holding.pk, components))
    return rows


def one_edge(holding: Holding) -> float:
    """Median seconds of storing one more prerequisite inside a component, with its search for a circle."""
    ends: dict[int, list[int]] = {}
    jobs = Job.objects.filter(holding=holding, branch__isnull=True).order_by("component", "id")
    for job, component in jobs.values_list("id", "component").iterator():
        ends.setdefault(component, []).append(job)
        if len(ends) == ROUNDS + 3:
            break
    times = []
    for members in list(ends.values())[: ROUNDS + 2]:
        link = Prerequisite(
            holding=holding, predecessor_id=members[0], successor_id=members[-1], relation="SF", min_amount=-300
        )
        times.append(timed(lambda link=link: add_link(link=link, by=None))[0])
        remove_link(link=link, by=None)
    Graph.objects.filter(pk=holding.pk).update(walked_version=Graph.objects.get(pk=holding.pk).facts_version)
    return median(times[2:])


def one_holding(series: Series, rows: list[dict[str, Any]], ratios: dict[str, float], say: Say) -> bool:
    """Load, walk and save a holding with minimal lags, all of whose rows change."""
    holding = fill(holdings.make(OURS, 12, real=False), "Ours", series)
    times: dict[str, list[float]] = {}
    answers: dict[str, dict[int, Any]] = {}
    ways: dict[str, Callable[[Holding], None]] = {"ORM, networkx, bulk_update": by_orm, "ours, every rule": by_ours}
    for _ in range(3):
        for name, run in ways.items():
            Reckoning.objects.filter(holding=holding).update(**WRONG)
            times.setdefault(name, []).append(timed(lambda run=run: run(holding))[0])
            answers[name] = saving.stored(holding.pk)
    equal = answers["ORM, networkx, bulk_update"] == answers["ours, every rule"]
    if not equal:
        say(f"Load, walk and save of {OURS} jobs: the rows differ.")
    base = min(times["ORM, networkx, bulk_update"])
    for name, taken in times.items():
        rows.append(row(OURS, f"load, walk, save by {name}", min(taken), min(taken) / base, "equal rows"))
    ratios[f"load, walk, save / ORM, {connection.vendor}"] = round(min(times["ours, every rule"]) / base, 3)
    return equal


def by_ours(holding: Holding) -> None:
    with transaction.atomic():
        saving.save(holding.pk, reckoned(holding), saving.stored(holding.pk), NOW)


def by_orm(holding: Holding) -> None:
    """What one writes first: instances, a graph library, and the ORM's way to update many rows."""
    related = Job.objects.select_related("plot__property", "season").prefetch_related("reports", "needs")
    jobs = {job.pk: job for job in related.filter(holding=holding)}
    reckonings = {one.job_id: one for one in Reckoning.objects.filter(holding=holding)}
    graph = networkx.DiGraph()
    graph.add_nodes_from(jobs)
    for link in Prerequisite.objects.filter(holding=holding):
        lag = round(link.min_amount * 1440)
        graph.add_edge(link.predecessor_id, link.successor_id, id=link.pk, lag=lag, source=link.source)
    early, late, chain = passes(graph, jobs)
    least: dict[int, int] = {}
    for pk, job in jobs.items():
        least[job.season_id] = min(late[pk] - early[pk], least.get(job.season_id, FAR))
    done = {pk for pk, job in jobs.items() if any(report.kind == "done" for report in job.reports.all())}
    for pk, job in jobs.items():
        one = reckonings[pk]
        one.earliest_start, one.latest_start = instant(early[pk]), instant(late[pk])
        one.earliest_finish = instant(early[pk] + job.duration_min)
        one.latest_finish = instant(late[pk] + job.duration_min)
        one.slack_min = late[pk] - early[pk]
        one.critical = one.slack_min == least[job.season_id]
        one.last_chance, one.look_by, one.next_window, one.finished_at = one.latest_start, None, None, None
        one.acres_done, one.acres_left = 0.0, job.acres
        one.holds = [
            waits_for(tail, edge)
            for tail, edge in sorted(graph.pred[pk].items(), key=lambda pair: pair[1]["id"])
            if tail not in done
        ]
        one.state = "done" if pk in done else "held" if one.holds else "open"
        one.detail = {"chain": chain[pk]} if chain[pk] else {}
        one.changed_at = NOW
    with transaction.atomic():
        Reckoning.objects.bulk_update(reckonings.values(), [*saving.NAMES, "changed_at"])


def passes(
    graph: networkx.DiGraph, jobs: dict[int, Job]
) -> tuple[dict[int, int], dict[int, int], dict[int, list[int]]]:
    """(earliest start, latest start, prerequisites behind the earliest start) by job."""
    order = list(networkx.topological_sort(graph))
    early: dict[int, int] = {}
    late: dict[int, int] = {}
    chain: dict[int, list[int]] = {}
    for pk in order:
        job = jobs[pk]
        first = job.first_day or job.season.first_day
        low = max(FIRST, day_start(job.plot.property.zone, first))
        bounds = [
            (early[tail] + jobs[tail].duration_min + edge["lag"], -edge["id"], tail)
            for tail, edge in graph.pred[pk].items()
        ]
        most, link, tail = max(bounds, default=(low - 1, 0, 0))
        early[pk] = max(most, low)
        chain[pk] = [*chain[tail], -link] if most >= low else []
    for pk in reversed(order):
        job = jobs[pk]
        days = (job.deadline, job.last_day or job.season.last_day)
        ends = [day_end(job.plot.property.zone, day) for day in days if day is not None]
        bounds = [late[head] - edge["lag"] for head, edge in graph.succ[pk].items()]
        late[pk] = min([*ends, *bounds]) - job.duration_min
    return early, late, chain


def waits_for(tail: int, edge: dict[str, Any]) -> dict[str, Any]:
    hold = {
        "kind": "predecessor",
        "rule": f"prerequisite:{edge['id']}",
        "clears": {"how": "report", "job": tail, "report": "done"},
        "inputs": {"predecessor": tail, "end": "done", "or": []},
    }
    return {**hold, "source": edge["source"]} if edge["source"] else hold
