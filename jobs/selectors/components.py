"""Which components a changed fact concerns: keys of facts to ids of components."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import Q

from jobs.law.contract import DISTURBS, PLANTS
from jobs.law.data import CROPS_SOWN, SPRAYS
from jobs.models import Job, JobState, NeedKind, Report, ReportKind
from jobs.selectors.facts import CHECK
from plots.models import Contract

OPEN_SPRAYS = {
    "operation__in": SPRAYS,
    "reckoning__state__in": sorted(set(JobState.values) - {JobState.DONE, JobState.CALLED_OFF}),
}
"""Sprays that may still go. One that was never reckoned is in a component that is walked anyway."""


def components_of(holding_id: int, keys: Iterable[str]) -> set[int] | None:
    """Ids of the components that read one of these facts; None asks for the whole holding.

    Keys: job:7, plot:7, season:7, property:7, series:7, material:7, label:7 (of that material), lot:7, sprayers,
    machine:<kind>, people, all. An unknown key asks for the whole holding rather than for nothing. What was sprayed
    closes jobs of other components on the same plot, so those that read sprays come along.
    """
    found: set[int] = set()
    by_kind: dict[str, set[str]] = {}
    for key in keys:
        kind, _, name = key.partition(":")
        by_kind.setdefault(kind, set()).add(name)
    where: dict[str, Any]
    for kind, names in sorted(by_kind.items()):
        match kind:
            case "job":
                where = {"pk__in": names}
            case "plot":
                where = {"plot_id__in": names}
            case "season":
                where = {"season_id__in": names}
            case "property":
                where = {"plot__property_id__in": names}
            case "series":
                where = {"plot__property__ranked_series__series_id__in": names}
            case "material":
                where = {"needs__material_id__in": names}
            case "machine":
                where = {"needs__kind": NeedKind.MACHINE, "needs__name__in": names}
            case "label" | "lot":
                continue
            case "sprayers":
                where = OPEN_SPRAYS
            case _:
                return None
        found.update(Job.objects.filter(holding_id=holding_id, **where).values_list("component", flat=True))
    found |= _readers_of_sprays(holding_id, found)
    return found | _readers_of_law(holding_id, by_kind) | _sprays_near(holding_id, by_kind)


NEAR_DEGREES = 0.1
"""Properties this near in latitude and longitude may lie within a spray's exclusion zone: some miles, to be safe."""


def _sprays_near(holding_id: int, by_kind: Mapping[str, set[str]]) -> set[int]:
    """Sprays to come near land where somebody was sent, came or left, or where an outline changed."""
    jobs = Job.objects.filter(holding_id=holding_id)
    moved = Q(assignments__isnull=False) | Q(reports__kind=ReportKind.START)
    where = Q(plot__in=by_kind.get("plot", ())) | Q(plot__property__in=by_kind.get("property", ()))
    if "job" in by_kind:
        where |= Q(pk__in=by_kind["job"]) & moved
    if where == Q(plot__in=()) | Q(plot__property__in=()):
        return set()
    columns = ("plot__property__latitude", "plot__property__longitude")
    near = Q(pk__in=())
    for latitude, longitude in set(jobs.filter(where).values_list(*columns)):
        near |= Q(
            plot__property__latitude__range=(latitude - NEAR_DEGREES, latitude + NEAR_DEGREES),
            plot__property__longitude__range=(longitude - NEAR_DEGREES, longitude + NEAR_DEGREES),
        )
    if near == Q(pk__in=()):
        return set()
    return set(jobs.filter(near, **OPEN_SPRAYS).values_list("component", flat=True))


def _readers_of_sprays(holding_id: int, components: set[int]) -> set[int]:
    jobs = Job.objects.filter(holding_id=holding_id)
    plots = set(jobs.filter(component__in=components, needs__kind=NeedKind.MATERIAL).values_list("plot_id", flat=True))
    readers = jobs.filter(plot_id__in=plots, details__has_key="closed_by")
    return set(readers.values_list("component", flat=True))


def _readers_of_law(holding_id: int, by_kind: Mapping[str, set[str]]) -> set[int]:
    """Where a rule reads facts of other components: what was sprayed or sown is read by all jobs of the plot, what a
    sprayer carries by the sprays to come, the year's share and the room for food plots by the property's jobs."""
    jobs = Job.objects.filter(holding_id=holding_id)
    told = jobs.filter(reports__isnull=False, operation__in=SPRAYS | CROPS_SOWN | DISTURBS | {CHECK})
    columns = ("plot_id", "plot__property_id", "operation")
    changed = set(told.filter(pk__in=by_kind.get("job", ())).values_list(*columns))
    if "label" in by_kind:
        changed |= set(told.filter(needs__material__in=[int(pk) for pk in by_kind["label"]]).values_list(*columns))
    if "lot" in by_kind:
        lots = [int(pk) for pk in sorted(by_kind["lot"])]
        sown = Report.objects.filter(holding_id=holding_id, payload__lot__in=lots).values("job")
        changed |= set(jobs.filter(pk__in=sown).values_list(*columns))
    readers = Q(pk__in=())
    plots = {plot for plot, _, operation in changed if operation in SPRAYS | CROPS_SOWN | {CHECK}}
    if plots:
        readers |= Q(plot_id__in=plots)
    if any(operation in SPRAYS for *_, operation in changed):
        readers |= Q(**OPEN_SPRAYS)
    contracts = Contract.objects.filter(holding_id=holding_id)
    disturbed = {place for _, place, operation in changed if operation in DISTURBS}
    if disturbed:
        shared = contracts.filter(property_id__in=disturbed, disturb_share__isnull=False).values("property")
        readers |= Q(operation__in=DISTURBS, plot__property__in=shared)
    if "plot" in by_kind:
        capped = contracts.filter(property__plots__in=[int(pk) for pk in by_kind["plot"]]).exclude(
            share=None, cap_acres=None
        )
        readers |= Q(operation__in=PLANTS, plot__property__in=capped.values("property"))
    return set(jobs.filter(readers).values_list("component", flat=True)) if readers != Q(pk__in=()) else set()
