"""Rows to the plain facts of one walk: once per holding, or once per set of components."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

from django.db.models import Q, QuerySet

from core.models import Holding
from jobs.facts import Closure, ConsentFact, Facts, JobFacts, MachineNeed, MaterialNeed, SkillNeed, SprayedBefore
from jobs.folding import Folded, ReportFact, fold
from jobs.graph.data import NEG, Arc, Branch, Curve, DegreeDays, Fixed, Lag, Moment, Node, Problem, Rain, Relation, Skip
from jobs.minutes import ceil_minute, day_end, day_start, floor_minute, local_day
from jobs.models import Branch as BranchRow
from jobs.models import Job, LagUnit, Need, NeedKind, Observation, Prerequisite, Report, Season
from jobs.reference import reference
from jobs.selectors.around import Around
from jobs.selectors.closures import closures, spans
from jobs.selectors.weather import RAIN, curves
from jobs.sequences import Closed, closed_by
from jobs.sequences.spec import Closing

WEATHER_REASONS = frozenset({"weather", "wind", "rain", "wet", "frost", "heat"})
"""Reasons of "could not" that clear by themselves on the next day."""

NOT_YET = "not_"
"""What an observation's name begins with where a look was in vain: not_emerged."""

LOOK_AGAIN_DAYS = 2
"""Days after which a look in vain is asked for again (common practice)."""

DESK = frozenset({"order", "desk", "pencil_burn", "service", "store"})
"""Operations that nobody has to enter the land for: quiet days, closed seasons and consents do not hold them."""


class JobRow(NamedTuple):
    """The columns of a job that a walk reads, in the order of `COLUMNS`."""

    id: int
    plot: int
    season: int | None
    branch: int | None
    step: str
    operation: str
    duration: int
    acres: float | None
    first_day: date | None
    last_day: date | None
    deadline: date | None
    called_off_at: datetime | None
    skip_effect: str
    dates_source: str
    details: dict[str, Any]
    component: int
    property: int
    zone: str
    tenure_ends: date | None
    season_first: date | None
    season_last: date | None
    season_off: datetime | None


COLUMNS = (
    "id", "plot_id", "season_id", "branch_id", "step", "operation", "duration_min", "acres", "first_day", "last_day",
    "deadline", "called_off_at", "skip_effect", "dates_source", "details", "component", "plot__property_id",
    "plot__property__zone", "plot__property__tenure_ends", "season__first_day", "season__last_day",
    "season__called_off_at",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Loaded:
    """The facts of a walk, the job rows and folded reports beside them, and which branches a spray closed."""

    facts: Facts
    rows: Mapping[int, JobRow]
    folded: Mapping[int, Folded]
    closed_branches: Mapping[int, str] = field(default_factory=dict)


def load(holding: Holding, now: datetime, components: Collection[int] | None = None) -> Loaded:
    """All facts of the holding's walk at `now`, or those of some components alone.

    A fixed number of queries whatever the number of jobs. Facts of other components are read where a hold needs them
    (stock, machines), their reckonings never.
    """
    scope = Q(holding_id=holding.pk)
    if components is not None:
        scope &= Q(component__in=list(components))
    rows = {row.id: row for row in _job_rows(holding, scope)}
    minute = floor_minute(now)
    today = local_day(holding.zone, minute)
    folded = _fold(rows, _reports(holding.pk, rows, components))
    needs = _needs(holding.pk, components)
    sprayed = _sprayed(rows, needs, folded)
    if components is not None and _reads_sprays(rows):
        _add_elsewhere(sprayed, holding, rows, components)
    branches, closed = _branches(holding.pk, rows, sprayed)
    links = _arcs(holding.pk, components, rows, folded, today)
    around = Around(holding, {row.property for row in rows.values()}, components)
    facts = {row.id: _job_facts(row, folded[row.id], needs.get(row.id, ()), around, now) for row in rows.values()}
    _add_sprays(facts, rows, sprayed)
    nodes = tuple(_node(row, folded[row.id], facts[row.id]) for row in rows.values())
    problem = Problem(day_start(holding.zone, today), nodes, links.arcs, branches, links.curves)
    midnight = day_end(holding.zone, today)
    return Loaded(Facts(problem, facts, midnight, links.sources, links.again, links.upper), rows, folded, closed)


def _job_rows(holding: Holding, scope: Q) -> list[JobRow]:
    rows = Job.objects.filter(scope).order_by("id").values_list(*COLUMNS)
    made = map(JobRow._make, rows)
    return [row if row.zone else row._replace(zone=holding.zone) for row in made]


def _fold(rows: Mapping[int, JobRow], reports: Mapping[int, list[ReportFact]]) -> dict[int, Folded]:
    nothing = Folded()
    return {
        row.id: fold(
            reports[row.id],
            duration=row.duration,
            acres=row.acres,
            skip_effect=Skip(row.skip_effect),
            not_yet={NOT_YET + kind for kind in row.details.get("observes", {}).values()},
        )
        if row.id in reports
        else nothing
        for row in rows.values()
    }


def _scoped(queryset: QuerySet[Any], holding_id: int, components: Collection[int] | None, path: str = "job__") -> Any:
    scope: dict[str, Any] = {"holding_id": holding_id}
    if components is not None:
        scope[f"{path}component__in"] = list(components)
    return queryset.filter(**scope)


def _reports(
    holding_id: int,
    rows: Mapping[int, JobRow],
    components: Collection[int] | None = None,
    jobs: Collection[int] | None = None,
) -> dict[int, list[ReportFact]]:
    found: dict[int, list[ReportFact]] = defaultdict(list)
    columns = (
        "id", "job_id", "kind", "happened_at", "day_only", "received_at", "outcome", "acres", "reason", "corrects_id",
    )  # fmt: skip
    query = _scoped(Report.objects.filter(job__isnull=False), holding_id, components)
    if jobs is not None:
        query = query.filter(job__in=list(jobs))
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


def _node(row: JobRow, facts: Folded, own: JobFacts) -> Node:
    prepared = row.operation in DESK and (facts.started is not None or facts.finished is not None)
    return Node(
        id=row.id,
        season=row.season or 0,
        duration=row.duration,
        spans=spans(own.first, own.last, own.closures),
        deadline=None if row.deadline is None else day_end(row.zone, row.deadline),
        branch=None if prepared else row.branch,
        started=facts.started,
        finished=facts.finished,
        rest=facts.rest,
        skipped=facts.skipped,
        skipped_at=facts.skipped_at,
        called_off=row.called_off_at is not None or row.season_off is not None,
        outcome=facts.outcome,
        still_to_do=facts.still_to_do,
    )


def _branches(
    holding_id: int, rows: Mapping[int, JobRow], sprayed: Mapping[int, Mapping[str, int]]
) -> tuple[tuple[Branch, ...], dict[int, str]]:
    seasons = {row.season for row in rows.values() if row.season is not None}
    zones = {row.plot: row.zone for row in rows.values()}
    found, closed = [], {}
    columns = (
        "id", "season_id", "group", "order", "parent_id", "opened_by_id", "outcomes", "expected", "called_off_at",
        "option", "season__plot_id",
    )  # fmt: skip
    query = BranchRow.objects.filter(holding_id=holding_id, season_id__in=seasons).order_by("id")
    for pk, season, group, order, parent, opener, outcomes, expected, off, option, plot in query.values_list(*columns):
        closings = _closed(option.get("closed_by", ()), sprayed.get(plot, {}))
        last = day_end(zones[plot], date.fromisoformat(option["last_day"])) if option.get("last_day") else None
        lost = (c.active for c in closings if c.firm or (c.until is not None and last is not None and c.until >= last))
        active = next(lost, None)
        if active is not None:
            closed[pk] = active
        found.append(
            Branch(pk, season, group or None, order, parent, opener, frozenset(outcomes), expected, bool(off or active))
        )
    return tuple(found), closed


def _sprayed(
    rows: Mapping[int, JobRow], needs: Mapping[int, list[Any]], folded: Mapping[int, Folded]
) -> dict[int, dict[str, int]]:
    """By plot: active ingredients of the materials of sprays reported done or done in part, with their last instant."""
    found: dict[int, dict[str, int]] = defaultdict(dict)
    for row in rows.values():
        facts = folded[row.id]
        last = facts.finished or (facts.parts[-1].at if facts.parts else None)
        if last is None:
            continue
        for need in needs.get(row.id, ()):
            # A comma inside a name is followed by no space: "2,4-D ester, glyphosate" are two actives.
            for active in (part.strip().lower() for part in (need["material__active"] or "").split(", ")):
                if active:
                    found[row.plot][active] = max(last.late, found[row.plot].get(active, NEG))
    return found


def _reads_sprays(rows: Mapping[int, JobRow]) -> bool:
    """A job of a replant option carries what closes the option, so the jobs tell."""
    return any(row.details.get("closed_by") for row in rows.values())


def _add_elsewhere(
    sprayed: dict[int, dict[str, int]], holding: Holding, rows: Mapping[int, JobRow], components: Collection[int]
) -> None:
    """Add what jobs of other components sprayed on the same plots: facts of others count, their reckonings do not."""
    plots = {row.plot for row in rows.values()}
    others = Job.objects.filter(
        holding=holding, plot__in=plots, needs__material__isnull=False, reports__isnull=False
    ).exclude(component__in=components)
    here = {row.id: row for row in _job_rows(holding, Q(pk__in=others.values("pk")))}
    found = _sprayed(here, _needs(holding.pk, jobs=here), _fold(here, _reports(holding.pk, here, jobs=here)))
    for plot, actives in found.items():
        for active, at in actives.items():
            sprayed[plot][active] = max(at, sprayed[plot].get(active, NEG))


def _add_sprays(
    facts: dict[int, JobFacts], rows: Mapping[int, JobRow], sprayed: Mapping[int, Mapping[str, int]]
) -> None:
    for row in rows.values():
        closed = _closed(row.details.get("closed_by", ()), sprayed.get(row.plot, {}))
        if closed:
            closing = tuple(SprayedBefore(c.active, c.at, c.until, c.source, c.note) for c in closed)
            facts[row.id] = replace(facts[row.id], sprayed=closing)


def _closed(rules: Iterable[Mapping[str, Any]], sprayed: Mapping[str, int]) -> tuple[Closed, ...]:
    return closed_by([Closing(**rule) for rule in rules], sprayed.items())


@dataclass(frozen=True, slots=True)
class _Links:
    """The arcs of a walk and what stands beside them by arc id, as in `Facts`, with the curves by number."""

    arcs: tuple[Arc, ...]
    curves: Mapping[int, Any]
    sources: Mapping[int, str]
    again: Mapping[int, int]
    upper: Mapping[int, int]


def _arcs(
    holding_id: int,
    components: Collection[int] | None,
    rows: Mapping[int, JobRow],
    folded: Mapping[int, Folded],
    today: date,
) -> _Links:
    columns = (
        "id", "predecessor_id", "successor_id", "relation", "min_amount", "min_unit", "min_then_days", "max_amount",
        "max_unit", "degree_days", "confirm", "source", "worth", "max_worth",
    )  # fmt: skip
    query = _scoped(Prerequisite.objects.all(), holding_id, components, "successor__").order_by("id")
    links = [link for link in query.values_list(*columns) if link[1] in rows and link[2] in rows]
    wanted = {(rows[link[2]].property, kind) for link in links for kind in _weather_kinds(link)}
    ids = {key: number for number, key in enumerate(sorted(wanted), start=1)}
    zones = {row.property: row.zone for row in rows.values()}
    first = min((_first_day(rows[link[1]], folded[link[1]]) for link in links if _weather_kinds(link)), default=today)
    found = curves(wanted, zones, min(first, today) - timedelta(days=1), today) if wanted else {}
    seen = _observations(holding_id, rows, links) if any(link[10] for link in links) else {}
    ranges = _upper_figures(rows, links)
    arcs: list[Arc] = []
    sources: dict[int, str] = {}
    again: dict[int, int] = {}
    upper: dict[int, int] = {}
    for link in links:
        pk, tail, head, relation, amount, unit, then, high, high_unit, kind, confirm, source, worth, high_worth = link
        here = rows[head].property
        if (
            folded[tail].started is None
            and folded[tail].finished is None
            and _too_short(found.get((here, kind)), rows[head])
        ):
            counted = ids | {(here, kind): NO_CURVE}
        else:
            counted = ids
        arcs.append(
            Arc(
                pk,
                tail,
                head,
                _RELATIONS[relation],
                _lag(amount, unit, kind, then, here, counted),
                None if high is None else _lag(high, high_unit, kind, 0, here, counted),
                bool(confirm),
                _confirmed(seen, confirm, rows[head], rows[tail], folded[tail]),
                soft="common practice" in (worth, high_worth),
            )
        )
        sources[pk] = source
        in_vain = _last_seen(seen, NOT_YET + confirm, rows[head], rows[tail]) if confirm else None
        if in_vain is not None:
            again[pk] = _look_again(rows[head].zone, in_vain)
        low, high = ranges.get(rows[head].season or 0, (None, 0.0))
        if unit == LagUnit.DEGREE_DAYS and amount == low:
            upper[pk] = round(high * 100)
    return _Links(tuple(arcs), {ids[key]: curve for key, curve in found.items()}, sources, again, upper)


def _too_short(curve: Curve | None, head: JobRow) -> bool:
    """The curve ends before the successor's days do: for a predecessor still to be done it proves nothing.

    A few days of temperatures without normals must call nothing too late that is only not known."""
    last = head.last_day or head.season_last
    return curve is not None and (last is None or curve.day_starts[-1] < day_end(head.zone, last))


def _look_again(zone: str, at: int) -> int:
    return day_start(zone, local_day(zone, at) + timedelta(days=LOOK_AGAIN_DAYS))


def _upper_figures(rows: Mapping[int, JobRow], links: Iterable[tuple[Any, ...]]) -> dict[int, tuple[float, float]]:
    """By season: (low, high) of the degree days within which its crop comes up, where both are published."""
    found_in = (rows[link[2]].season for link in links if link[5] == LagUnit.DEGREE_DAYS)
    seasons = {season for season in found_in if season is not None}
    if not seasons:
        return {}
    found = {}
    crops = Season.objects.filter(pk__in=seasons).values_list("pk", "sequence__document__crop")
    for season, key in crops:
        crop = reference().crops.get(key or "")
        for figure in crop.values if crop is not None else ():
            if figure.name == "emergence" and figure.high > figure.low:
                found[season] = (figure.low, figure.high)
    return found


def _first_day(row: JobRow, facts: Folded) -> date:
    anchor = facts.started or facts.finished
    if anchor is not None:
        return local_day(row.zone, anchor.early)
    return row.first_day or row.season_first or date.max


def _weather_kinds(link: tuple[Any, ...]) -> set[str]:
    kinds = set()
    if LagUnit.DEGREE_DAYS in (link[5], link[8]):
        kinds.add(link[9])
    if link[5] == LagUnit.RAIN_IN:
        kinds.add(RAIN)
    return kinds


def _lag(amount: float, unit: str, kind: str, then_days: float, place: int, ids: Mapping[tuple[int, str], int]) -> Lag:
    if unit == LagUnit.DEGREE_DAYS:
        return DegreeDays(ids[place, kind], round(amount * 100))
    if unit == LagUnit.RAIN_IN:
        return Rain(ids[place, RAIN], round(amount * 100), round(then_days * 1440))
    return Fixed(round(amount * (60 if unit == LagUnit.HOURS else 1440)))


NO_CURVE = 0
"""The number of no curve: a lag on it is not known going forward and bounds nothing going backward."""

_RELATIONS = {relation.value: relation for relation in Relation}

Seen = dict[tuple[int, str], list[tuple[int, int | None, int]]]


def _observations(holding_id: int, rows: Mapping[int, JobRow], links: Iterable[tuple[Any, ...]]) -> Seen:
    """By (plot, kind): what was seen, oldest first, without what a later report took back."""
    plots = {rows[link[2]].plot for link in links if link[10]}
    taken_back = set(
        Report.objects.filter(holding_id=holding_id, corrects__isnull=False).values_list("corrects_id", flat=True)
    )
    found: Seen = defaultdict(list)
    query = Observation.objects.filter(holding_id=holding_id, plot_id__in=plots).order_by("at", "id")
    for pk, plot, season, kind, at, report in query.values_list(
        "id", "plot_id", "season_id", "kind", "at", "report_id"
    ):
        if report not in taken_back:
            found[plot, kind].append((ceil_minute(at), season, pk))
    return found


def _confirmed(seen: Seen, confirm: str, head: JobRow, tail: JobRow, done: Folded) -> int | None:
    """The first observation of the kind in the season of either job, not older than the predecessor's fact."""
    if not confirm:
        return None
    since = done.finished or done.started
    for at, season, _ in seen.get((head.plot, confirm), ()):
        if season in (None, head.season, tail.season) and since is not None and at >= since.early:
            return at
    return None


def _last_seen(seen: Seen, kind: str, head: JobRow, tail: JobRow) -> int | None:
    found = [at for at, season, _ in seen.get((head.plot, kind), ()) if season in (None, head.season, tail.season)]
    return found[-1] if found else None


# one job


def _job_facts(row: JobRow, facts: Folded, needs: Iterable[Any], around: Around, now: datetime) -> JobFacts:
    first_day, last_day = row.first_day or row.season_first, row.last_day or row.season_last
    on_land = row.operation not in DESK
    closed: tuple[Closure, ...] = ()
    if on_land:
        local = local_day(row.zone, floor_minute(now))
        closed = closures(
            operation=row.operation,
            plot=row.plot,
            zone=row.zone,
            first=first_day or local - timedelta(days=366),
            last=last_day or local + timedelta(days=732),
            quiet=around.quiet.get(row.property, ()),
            contracts=around.contracts.get(row.property, ()),
            tenure_ends=row.tenure_ends,
        )
    consents = [c for c in around.consents.get(row.property, ()) if on_land and c.operation in ("", row.operation)]
    left = None if row.acres is None else max(0.0, row.acres - facts.acres_done)
    machines, materials, skills = [], [], []
    for need in needs:
        if need["kind"] == NeedKind.MACHINE:
            listed = around.machines.get(need["name"], [])
            chosen = [fact for pk, fact in listed if need["machine_id"] in (None, pk)]
            machines.append(MachineNeed(need["name"], tuple(chosen)))
        elif need["kind"] == NeedKind.SKILL:
            skills.append(SkillNeed(need["name"], tuple(around.skills.get(need["name"].lower(), ()))))
        elif need["material_id"] is not None:
            amount = need["amount"] or (need["rate_per_acre"] or 0.0) * (left or 0.0)
            materials.append(MaterialNeed(need["material_id"], amount, around.stock.get(need["material_id"])))
    overridden, changes = around.overridden(row.id, facts, now)
    trouble = facts.trouble
    clears = None
    if trouble is not None and trouble.reason in WEATHER_REASONS:
        clears = day_end(row.zone, local_day(row.zone, trouble.at))
    elif trouble is not None and trouble.reason.startswith(NOT_YET):
        clears = _look_again(row.zone, trouble.at)
    return JobFacts(
        id=row.id,
        operation=row.operation,
        first=None if first_day is None else day_start(row.zone, first_day),
        last=None if last_day is None else day_end(row.zone, last_day),
        closures=closed,
        consents=tuple(
            ConsentFact(
                c.pk,
                c.whose,
                None if c.given_on is None else day_start(row.zone, c.given_on),
                None if c.valid_to is None else day_end(row.zone, c.valid_to),
            )
            for c in consents
        ),
        machines=tuple(machines),
        materials=tuple(materials),
        skills=tuple(skills),
        trouble=trouble,
        trouble_clears=clears,
        overridden=overridden,
        changes=changes,
        acres=row.acres,
        acres_done=facts.acres_done,
        parts=facts.parts,
        dates_source=row.dates_source,
    )


def _needs(
    holding_id: int, components: Collection[int] | None = None, jobs: Collection[int] | None = None
) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    columns = (
        "job_id", "kind", "name", "machine_id", "material_id", "material__active", "rate_per_acre", "amount",
    )  # fmt: skip
    query = _scoped(Need.objects.all(), holding_id, components)
    if jobs is not None:
        query = query.filter(job__in=list(jobs))
    for need in query.order_by("id").values(*columns):
        found[need["job_id"]].append(need)
    return found
