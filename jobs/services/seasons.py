"""Apply a sequence to a plot, call a season off, roll a whole year over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from core.errors import NotFound, Refused
from core.models import Holding, Person
from core.services.facts import lock_graph, touch
from core.services.rows import log
from jobs.models import Branch, Job, Need, NeedKind, Prerequisite, Season, Sequence
from jobs.reference import reference
from jobs.sequences import Expansion, expand
from jobs.sequences.expanding import JobRow
from jobs.services.across import link_of, settle, spec_of, ties_across
from plots.capacity import acres_per_hour
from plots.models import Machine, Material, Normal, Plot, PropertySeries

APPLICATOR = "pesticide applicator"


def latest_sequence(holding_id: int, key: str) -> Sequence:
    """The newest version of a sequence, the holding's own before the shipped one.

    Raises:
        NotFound: there is none of this key.
    """
    found = Sequence.objects.filter(key=key, retired=False).order_by("-version")
    own = found.filter(holding_id=holding_id).first() or found.filter(holding__isnull=True).first()
    if own is None:
        raise NotFound(f"There is no sequence '{key}'.", field="sequence")
    return own


def apply_sequence(
    *,
    plot: Plot,
    sequence: Sequence,
    year: int,
    by: Person | None,
    label: str = "",
    materials: Mapping[str, int] | None = None,
) -> Season:
    """Make the season of a sequence version on a plot: its jobs, prerequisites, branches and needs.

    `year` is the anchor year; `materials` chooses materials of the holding by role ("corn seed": 12). Applying the same
    version under the same label again adds what is missing, prerequisites to and from other seasons among it, and
    lengthens one of these where more is asked now; what somebody removed or changed by hand stays so.

    Raises:
        Refused: the year is absurd, or a link would close a circle or contradict others; nothing is stored then.
    """
    if not 2000 <= year <= 2100:
        raise Refused(f"The year {year} is out of range. Give a year from 2000 to 2100.", field="year")
    if sequence.holding_id not in (None, plot.holding_id):
        raise NotFound("This sequence is not in the holding.", field="sequence")
    spec = spec_of(sequence)
    laid_out = expand(
        spec,
        year,
        plot.acres,
        perimeter_ft=plot.perimeter_ft,
        acres_per_hour=rates_of(plot.holding_id),
        freezing_normals=freezing_normals(plot.property_id, year),
    )
    with transaction.atomic():
        lock_graph(plot.holding_id)
        season, _ = Season.objects.get_or_create(
            plot=plot,
            sequence=sequence,
            label=label or f"{spec.name} {year}",
            defaults={
                "holding_id": plot.holding_id,
                "year": year,
                "first_day": laid_out.first_day,
                "last_day": laid_out.last_day,
            },
        )
        known = dict(Job.objects.filter(season=season, occurrence=1).values_list("step", "pk"))
        branches = _make_branches(season, laid_out)
        made = _make_jobs(season, laid_out, branches, known)
        jobs = known | made
        _tie_branches(branches, laid_out, jobs)
        _make_needs(season, laid_out, made, materials or {})
        links = _links(season, laid_out, jobs, made)
        settle(holding_id=plot.holding_id, ties=ties_across(season, spec), by=by, more=links)
        log(holding_id=plot.holding_id, by=by, verb="applied", row=season, change={"jobs": len(made)})
        touch(plot.holding_id, {f"season:{season.pk}"})
    return season


def rates_of(holding_id: int) -> dict[str, float]:
    """Acres an hour by kind of machine, of the fastest machine of the holding that has all three figures."""
    found: dict[str, float] = {}
    rows = Machine.objects.filter(holding_id=holding_id)
    for kind, width, speed, efficiency in rows.values_list("kind", "width_ft", "speed_mph", "efficiency"):
        if width is not None and speed is not None and efficiency is not None:
            found[kind] = max(found.get(kind, 0.0), acres_per_hour(width, speed, efficiency))
    return found


def freezing_normals(property_id: int, year: int) -> dict[int, date]:
    """The first autumn day whose normal low is at or below 28 and 32 degrees F, from the best-ranked normals.

    This is no freeze date: a normal low is a mean of many years, so by that day the first freeze has come already in
    half of all years or more. Published medians of the first freeze come earlier; where a manager types one as a
    deadline, it goes before this."""
    for series in PropertySeries.objects.filter(property_id=property_id).order_by("rank").values_list("series_id"):
        normals = Normal.objects.filter(series_id=series[0]).values_list("month_day", "low_f")
        lows = {day: low for day, low in normals if low is not None}
        if not lows:
            continue
        found = {}
        for limit in (28, 32):
            day = next((d for d in _autumn(year) if lows.get(f"{d:%m-%d}", 99.0) <= limit), None)
            if day is not None:
                found[limit] = day
        return found
    return {}


def _autumn(year: int) -> Iterable[date]:
    return (date(year, 8, 1) + timedelta(days=offset) for offset in range(150))


def _make_branches(season: Season, laid_out: Expansion) -> dict[str, Branch]:
    branches = {branch.key: branch for branch in Branch.objects.filter(season=season)}
    for row in laid_out.branches:
        if row.key in branches:
            continue
        option = _plain(asdict(row.option)) if row.option is not None else {}
        branches[row.key] = Branch.objects.create(
            holding_id=season.holding_id,
            season=season,
            key=row.key,
            name=row.name,
            group=row.group or "",
            order=row.order,
            outcomes=list(row.outcomes),
            expected=row.expected,
            option=option,
        )
    return branches


def _make_jobs(
    season: Season, laid_out: Expansion, branches: Mapping[str, Branch], known: Mapping[str, int]
) -> dict[str, int]:
    last_days = {
        row.key: row.option.last_day for row in laid_out.branches if row.option is not None and row.option.last_day
    }
    made = {}
    for row in laid_out.jobs:
        if row.step in known:
            continue
        job = Job.objects.create(
            holding_id=season.holding_id,
            plot=season.plot,
            season=season,
            branch=branches[row.branch] if row.branch else None,
            step=row.step,
            occurrence=row.occurrence,
            operation=row.operation,
            title=row.title,
            instruction=row.instruction,
            duration_min=row.duration_min,
            acres=row.acres,
            first_day=row.first_day,
            last_day=row.last_day,
            deadline=min(filter(None, [row.deadline, last_days.get(row.branch or "")]), default=None),
            dates_source=row.dates_source,
            hazards=list(row.hazards),
            outcomes=list(row.outcomes),
            skip_effect=row.skip_effect.value,
            repeat=_plain(asdict(row.repeat)) if row.repeat is not None else None,
            details=_details(row),
        )
        made[row.step] = job.pk
    return made


def _details(row: JobRow) -> dict[str, Any]:
    found = {
        "tags": list(row.tags),
        "limits": [_plain(asdict(limit)) for limit in row.limits],
        "closed_by": [_plain(asdict(closing)) for closing in row.closed_by],
        "observes": dict(row.observes),
        "least_crew": row.least_crew,
        "lead_days": row.lead_days,
        "deadline_note": row.deadline_note,
        "dates_worth": row.dates_worth,
    }
    return {name: value for name, value in found.items() if value}


def _tie_branches(branches: Mapping[str, Branch], laid_out: Expansion, jobs: Mapping[str, int]) -> None:
    for row in laid_out.branches:
        branch = branches[row.key]
        branch.parent = branches[row.parent] if row.parent else None
        branch.opened_by_id = jobs[row.opened_by] if row.opened_by else None
        branch.save(update_fields=["parent", "opened_by"])


def _make_needs(season: Season, laid_out: Expansion, made: Mapping[str, int], materials: Mapping[str, int]) -> None:
    """What each job takes along: what its step names, and the machines that its operation usually takes.

    Fire always asks for a burn boss; a spray asks for a certified applicator where the chosen product is restricted."""
    chosen = dict(
        Material.objects.filter(holding_id=season.holding_id, pk__in=materials.values()).values_list("pk", "restricted")
    )
    rows = []
    for row in laid_out.jobs:
        if row.step not in made:
            continue
        operation = reference().operations[row.operation]
        needs = {(need.kind, need.name): need for need in row.needs}
        names = [*needs, *((NeedKind.MACHINE, name) for name in operation.machines)]
        if "fire" in operation.hazards:
            names += [(NeedKind.SKILL, name) for name in operation.skills]
        for kind, name in dict.fromkeys((str(kind), name) for kind, name in names):
            material = materials.get(name) if kind == NeedKind.MATERIAL else None
            if material is not None and material not in chosen:
                raise NotFound(f"Material {material} is not in this holding.", field="materials")
            rate = needs[kind, name].rate_per_acre if (kind, name) in needs else None
            rows.append(_need(season, made[row.step], kind, name, material, rate))
            if material is not None and chosen[material] and (NeedKind.SKILL, APPLICATOR) not in needs:
                rows.append(_need(season, made[row.step], NeedKind.SKILL, APPLICATOR, None, None))
    Need.objects.bulk_create(rows, ignore_conflicts=True)


def _need(season: Season, job: int, kind: str, name: str, material: int | None, rate: float | None) -> Need:
    return Need(
        holding_id=season.holding_id, job_id=job, kind=kind, name=name, material_id=material, rate_per_acre=rate
    )


def _links(season: Season, laid_out: Expansion, jobs: Mapping[str, int], made: Mapping[str, int]) -> list[Prerequisite]:
    return [
        link_of(
            season.holding_id,
            row,
            jobs[row.predecessor],
            jobs[row.successor],
            degree_days=row.degree_days,
            max_source=row.max_source,
            max_worth=row.max_worth,
        )
        for row in laid_out.prerequisites
        if row.predecessor in made or row.successor in made
    ]


def call_off(*, job: Job, by: Person, now: datetime) -> None:
    """Call one job off; its predecessors' links go on to its successors. Calling it off twice changes nothing."""
    with transaction.atomic():
        lock_graph(job.holding_id)
        if Job.objects.filter(pk=job.pk, called_off_at__isnull=True).update(called_off_at=now):
            log(holding_id=job.holding_id, by=by, verb="called off", row=job, change={})
            touch(job.holding_id, job.fact_keys())


def roll_over(
    *, holding: Holding, from_year: int, to_year: int, by: Person | None, swaps: Mapping[int, int] | None = None
) -> list[Season]:
    """Apply every season of one year again in another: "like last year, these plots swap".

    `swaps` maps plot ids: what grew on the key grows on the value next. Each sequence is taken in its newest version,
    with the materials that were chosen last time; a season that is there already is left as it is.

    Raises:
        Refused: nothing was applied in `from_year`, or two seasons of one sequence would land on one plot.
    """
    swaps = swaps or {}
    rows = Season.objects.filter(holding=holding, year=from_year, called_off_at__isnull=True)
    rows = rows.select_related("sequence", "plot").order_by("id")
    old = [(season, season.sequence) for season in rows if season.sequence is not None]
    if not old:
        raise Refused(f"Nothing was applied in {from_year}, so there is nothing to roll over.", code="nothing")
    plots = Plot.objects.filter(holding=holding).in_bulk(
        {swaps.get(season.plot_id, season.plot_id) for season, _ in old}
    )
    with transaction.atomic():
        lock_graph(holding.pk)
        made: dict[tuple[int, str, str], Season] = {}
        for season, sequence in old:
            target = plots.get(swaps.get(season.plot_id, season.plot_id))
            if target is None:
                raise NotFound(f"Plot {swaps[season.plot_id]} is not in this holding.", field="swaps")
            key, label = sequence.key, _label_of(season, to_year)
            if (target.pk, key, label) in made:
                raise Refused(
                    f"{sequence.name} would come to {target.name} from two plots. Give one another plot.",
                    code="collision",
                    field="swaps",
                    plot=target.pk,
                )
            there = Season.objects.filter(plot=target, sequence__key=key, year=to_year, label=label).first()
            made[target.pk, key, label] = there or apply_sequence(
                plot=target,
                sequence=latest_sequence(holding.pk, key),
                year=to_year,
                by=by,
                label=label,
                materials=_chosen_materials(season),
            )
        return list(made.values())


def _label_of(season: Season, year: int) -> str:
    """The season's label with the new year in place of its own."""
    label = season.label.replace(str(season.year), str(year))
    return label if str(year) in label else f"{label[:55]} {year}"


def _chosen_materials(season: Season) -> dict[str, int]:
    rows = Need.objects.filter(job__season=season, kind=NeedKind.MATERIAL, material__isnull=False).order_by("id")
    return {name: material for name, material in rows.values_list("name", "material_id") if material is not None}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items() if item not in (None, "", (), [])}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value.isoformat() if isinstance(value, date) else value
