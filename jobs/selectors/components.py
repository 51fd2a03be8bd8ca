"""Which components a changed fact concerns: keys of facts to ids of components."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from jobs.models import Job, NeedKind


def components_of(holding_id: int, keys: Iterable[str]) -> set[int] | None:
    """Ids of the components that read one of these facts; None asks for the whole holding.

    Keys: job:7, plot:7, season:7, property:7, series:7, material:7, machine:<kind>, people, all. An unknown key asks
    for the whole holding rather than for nothing. What was sprayed closes jobs of other components on the same plot, so
    those that read sprays come along.
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
            case _:
                return None
        found.update(Job.objects.filter(holding_id=holding_id, **where).values_list("component", flat=True))
    return found | _readers_of_sprays(holding_id, found)


def _readers_of_sprays(holding_id: int, components: set[int]) -> set[int]:
    jobs = Job.objects.filter(holding_id=holding_id)
    plots = set(jobs.filter(component__in=components, needs__kind=NeedKind.MATERIAL).values_list("plot_id", flat=True))
    readers = jobs.filter(plot_id__in=plots, details__has_key="closed_by")
    return set(readers.values_list("component", flat=True))
