"""Rows that the rules of label, law, contract and safety read, as their plain facts. A query or two each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from core.models import CrewMember, Holding
from jobs.folding import Folded
from jobs.law.contract import ContractTerms
from jobs.law.data import UNNAMED, ActiveShare, LabelFact, PlantWait, crop_name, names_of
from jobs.law.label import Strip
from jobs.law.people import SheetFact
from jobs.minutes import ceil_minute, day_end, day_start
from jobs.models import Assignment, AssignmentState, NeedKind, Prerequisite, Report, ReportKind, Sheet
from jobs.selectors.facts.rows import JobRow, few
from plots.models import Contract, Label, LabelActive, Lot, Machine, Material, PlantBack, Plot, PlotKind
from plots.reference import crop_key

POST_SIGNS = "post_signs"
WASHED, DRAWN = "sprayer_washed", "strips_drawn"

SHEET_COLUMNS = tuple(name for name in SheetFact.__dataclass_fields__ if name != "boss")


def label_facts(holding_id: int, materials: Collection[int]) -> dict[int, LabelFact]:
    """By material that is sprayed against something: what was typed of its label. Oils and dyes have none."""
    shares: dict[int, dict[str, ActiveShare]] = defaultdict(dict)
    listed = LabelActive.objects.filter(holding_id=holding_id, **few(label__material_id__in=materials))
    for material, active, per_unit, unit, most in listed.order_by("id").values_list(
        "label__material_id", "active", "per_unit", "unit", "season_most_per_acre"
    ):
        shares[material][active.lower()] = ActiveShare(per_unit, unit, most)
    waits: dict[int, dict[str, PlantWait]] = defaultdict(dict)
    at_least: dict[int, PlantWait] = {}
    after = PlantBack.objects.filter(holding_id=holding_id, **few(label__material_id__in=materials)).order_by("id")
    for material, crop, days, rain_in in after.values_list("label__material_id", "crop", "days", "after_rain_in"):
        key, wait = crop_key(crop), PlantWait(days, rain_in)
        if key is None:
            at_least[material] = wait.or_longer(at_least.get(material))
        else:
            waits[material][crop_name(key)] = wait.or_longer(waits[material].get(crop_name(key)))
    typed = {
        label.material_id: label
        for label in Label.objects.filter(holding_id=holding_id, **few(material_id__in=materials)).order_by("id")
    }
    found = {}
    rows = Material.objects.filter(holding_id=holding_id, **few(pk__in=materials)).order_by("id")
    for pk, name, kind, active in rows.values_list("pk", "name", "kind", "active"):
        label = typed.get(pk)
        if not active and kind != "herbicide" and label is None:
            continue
        actives = tuple(sorted({*names_of(active), *shares[pk]}))
        if label is None:
            found[pk] = LabelFact(pk, name, actives)
            continue
        found[pk] = LabelFact(
            pk,
            name,
            actives,
            True,
            label.entry_hours,
            label.till_wait_days,
            label.mow_wait_days,
            label.wash_known,
            names_of(label.wash_before.replace(",", ", ")),
            dict(shares[pk]),
            label.source,
            label.wind_least_mph,
            label.wind_most_mph,
            label.rain_fast_hours,
            label.night_low_f,
            names_of(label.over_crops.replace(",", ", ")),
            dict(waits[pk]),
            at_least.get(pk),
        )
    return found


def mix_of(needs: Iterable[Mapping[str, Any]], typed: Mapping[int, LabelFact]) -> tuple[LabelFact, ...]:
    """The labels of what a spray carried. Where nobody said what it was against something, one that is not known; all
    chosen and none of it with a label (oil, dye), none."""
    taken = {need["material_id"] for need in needs if need["kind"] == NeedKind.MATERIAL}
    mix = tuple(typed[pk] for pk in sorted(pk for pk in taken if pk is not None) if pk in typed)
    return mix or (() if taken and None not in taken else (UNNAMED,))


def machines_by_kind(holding_id: int) -> dict[str, tuple[int, ...]]:
    found: dict[str, list[int]] = defaultdict(list)
    for pk, kind in Machine.objects.filter(holding_id=holding_id).order_by("id").values_list("pk", "kind"):
        found[kind].append(pk)
    return {kind: tuple(pks) for kind, pks in found.items()}


def _replaced(holding_id: int) -> set[int]:
    """Reports in whose place another one stands."""
    rows = Report.objects.filter(holding_id=holding_id, corrects__isnull=False)
    return set(rows.values_list("corrects_id", flat=True))


def washed(holding_id: int, kinds: Mapping[str, Iterable[int]]) -> dict[int, int]:
    """By machine the last minute at which somebody reported it washed out.

    A report names its machine; else it is the one that the job takes. Where neither says one, it washes none, unless
    the holding has but one of the kind."""
    replaced = _replaced(holding_id)
    found: dict[int, int] = {}
    rows = Report.objects.filter(holding_id=holding_id, kind=ReportKind.SEEN, outcome=WASHED).order_by("id")
    for report in rows.prefetch_related("job__needs"):
        if report.pk in replaced:
            continue
        machines = {report.payload["machine"]} if "machine" in report.payload else set()
        if not machines and report.job is not None:
            for need in report.job.needs.all():
                listed = tuple(kinds.get(need.name, ()))
                if need.kind == NeedKind.MACHINE and need.machine_id is not None:
                    machines.add(need.machine_id)
                elif need.kind == NeedKind.MACHINE and len(listed) == 1:
                    machines.add(listed[0])
        for machine in machines:
            found[machine] = max(found.get(machine, 0), ceil_minute(report.happened_at))
    return found


@dataclass(slots=True)
class Planted:
    """What stands on a plot in a season: strips by lot, and whether they are drawn since the last was planted."""

    strips: list[Strip] = field(default_factory=list)
    last: int = 0
    drawn: bool = False


def planted_strips(
    holding_id: int, rows: Mapping[int, JobRow], folded: Mapping[int, Folded], sown: Collection[int]
) -> dict[tuple[int, int | None], Planted]:
    """By (plot, season): the strips of the planting jobs `sown`, each part by the lot that its report names.

    What was done without a lot is a strip whose lot is not known; its acres are what the parts leave of the job's."""
    found: dict[tuple[int, int | None], Planted] = defaultdict(Planted)
    replaced = _replaced(holding_id)
    told = Report.objects.filter(
        holding_id=holding_id, kind__in=(ReportKind.DONE, ReportKind.COULD_NOT), **few(job_id__in=sown)
    ).order_by("id")
    by_job: dict[int, list[Report]] = defaultdict(list)
    for report in told:
        counts = report.kind == ReportKind.DONE or report.acres is not None
        if report.job_id is not None and report.pk not in replaced and counts:
            by_job[report.job_id].append(report)
    ids = {report.payload.get("lot") for listed in by_job.values() for report in listed}
    lots = Lot.objects.filter(holding_id=holding_id, **few(pk__in={pk for pk in ids if pk is not None})).in_bulk()
    for job in sorted(sown):
        row = rows[job]
        here, left = found[row.plot, row.season], row.acres
        for report in by_job.get(job, ()):
            lot = lots.get(report.payload.get("lot"))
            acres = report.acres if report.acres is not None else left
            if left is not None and acres is not None:
                left = max(0.0, left - acres)
            tolerates = frozenset(names_of(lot.tolerates)) if lot is not None else frozenset()
            number = lot.number if lot is not None else ""
            here.strips.append(Strip(acres, lot.pk if lot is not None else None, number, tolerates))
            here.last = max(here.last, ceil_minute(report.happened_at))
    drawn = Report.objects.filter(holding_id=holding_id, kind=ReportKind.SEEN, outcome=DRAWN)
    plots = {plot for plot, _ in found}
    for pk, plot, at in drawn.filter(**few(plot_id__in=plots)).values_list("pk", "plot_id", "happened_at"):
        for (where, _), here in found.items():
            if where == plot and pk not in replaced and ceil_minute(at) >= here.last:
                here.drawn = True
    return dict(found)


def sheets(holding_id: int, jobs: Collection[int]) -> dict[int, SheetFact]:
    rows = Sheet.objects.filter(holding_id=holding_id, **few(job_id__in=jobs)).order_by("id")
    return {
        row["job_id"]: SheetFact(**{name: row[name] for name in SHEET_COLUMNS}, boss=row["boss_id"])
        for row in rows.values("job_id", "boss_id", *SHEET_COLUMNS)
    }


def confirmed_people(holding_id: int, jobs: Collection[int]) -> dict[int, frozenset[int]]:
    """By job the people to whom it is given, themselves or in a crew; those who are not active any more count not."""
    crews: dict[int, list[int]] = defaultdict(list)
    rows = Assignment.objects.filter(
        holding_id=holding_id, state=AssignmentState.ACTIVE, **few(job_id__in=jobs)
    ).values_list("job_id", "person_id", "person__active", "crew_id")
    given = list(rows.order_by("id"))
    if any(crew for *_, crew in given):
        members = CrewMember.objects.filter(holding_id=holding_id, person__active=True)
        for crew, person in members.values_list("crew_id", "person_id"):
            crews[crew].append(person)
    found: dict[int, set[int]] = defaultdict(set)
    for job, person, active, crew in given:
        if person is not None and active:
            found[job].add(person)
        found[job].update(crews.get(crew, ()))
    return {job: frozenset(people) for job, people in found.items()}


class Covers(dict[int, tuple[int, ...]]):
    """By plot of a property under contract the contracts that cover it, with the acres of those that are food plots.

    `narrowest_ft` is the typed width of plots at their narrowest place."""

    def __init__(
        self,
        covered: Mapping[int, tuple[int, ...]],
        food: Mapping[int, float | None],
        narrowest_ft: Mapping[int, float | None],
    ) -> None:
        super().__init__(covered)
        self._food, self.narrowest_ft = food, narrowest_ft

    def acres(self, plot: int) -> float | None:
        """Of a food plot; None where nobody knows them."""
        return self._food[plot]

    def is_food_plot(self, plot: int) -> bool:
        return plot in self._food

    def food_plots(self, contract: int) -> list[float | None]:
        """Acres of each food plot under a contract; None where nobody knows them."""
        return [acres for plot, acres in self._food.items() if contract in self[plot]]


def contract_terms(
    holding: Holding, rows: Iterable[JobRow], under: Collection[int]
) -> tuple[dict[int, ContractTerms], Covers]:
    """The contracts of the properties `under` contract, and which plots each covers."""
    if not under:
        return {}, Covers({}, {}, {})
    zones = {row.property: row.zone for row in rows}
    listed = list(Contract.objects.filter(holding_id=holding.pk, **few(property_id__in=under)).order_by("id"))
    terms = {
        row.pk: ContractTerms(
            row.pk,
            row.practice,
            day_start(zones.get(row.property_id, holding.zone), row.first_day),
            day_end(zones.get(row.property_id, holding.zone), row.last_day),
            row.share,
            row.cap_acres,
            row.field_acres,
            row.disturb_share,
            row.contract_acres,
            row.exempt_acres,
            row.source,
            row.least_acres,
            row.least_width_ft,
        )
        for row in listed
    }
    plots = Plot.objects.filter(holding_id=holding.pk, **few(property_id__in={row.property_id for row in listed}))
    covered: dict[int, tuple[int, ...]] = {}
    food: dict[int, float | None] = {}
    widths: dict[int, float | None] = {}
    for plot, place, kind, typed, measured, width in plots.order_by("id").values_list(
        "pk", "property_id", "kind", "acres_typed", "acres_geodesic", "narrowest_ft"
    ):
        widths[plot] = width
        covered[plot] = tuple(row.pk for row in listed if row.property_id == place and row.plot_id in (None, plot))
        if kind == PlotKind.FOOD_PLOT:
            food[plot] = typed if typed is not None else measured
    return terms, Covers(covered, food, widths)


def posted_sprays(holding_id: int, jobs: Collection[int]) -> set[int]:
    """Those of the jobs before which signs go up."""
    links = Prerequisite.objects.filter(
        holding_id=holding_id, predecessor__operation=POST_SIGNS, **few(successor_id__in=jobs)
    )
    return set(links.values_list("successor_id", flat=True))
