"""What was sprayed on plots, and which branches and jobs that closes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from core.models import Holding
from jobs.facts import JobFacts, SprayedBefore
from jobs.folding import Folded
from jobs.graph.arcs import RainClock
from jobs.graph.data import FAR, NEG, Branch, Curve, Rain
from jobs.minutes import day_end, local_day
from jobs.models import Branch as BranchRow
from jobs.models import Job, Need
from jobs.selectors.facts.rows import JobRow, few, job_rows
from jobs.selectors.facts.told import folded_reports
from jobs.selectors.weather import RAIN, curves
from jobs.sequences import Closed, closed_by
from jobs.sequences.spec import Closing

Sprayed = dict[int, dict[str, int]]
"""By plot: active ingredients that were sprayed, with their last instant."""

NEED_COLUMNS = (
    "job_id", "kind", "name", "machine_id", "material_id", "material__active", "rate_per_acre", "amount",
)  # fmt: skip


def read_needs(holding_id: int, **jobs: Collection[int] | None) -> dict[int, list[Any]]:
    """By job what it takes along; `jobs` are the filters that find these jobs' needs."""
    found: dict[int, list[Any]] = defaultdict(list)
    for need in Need.objects.filter(holding_id=holding_id, **few(**jobs)).order_by("id").values(*NEED_COLUMNS):
        found[need["job_id"]].append(need)
    return found


def sprayed_on(
    holding: Holding,
    rows: Mapping[int, JobRow],
    needs: Mapping[int, list[Any]],
    folded: Mapping[int, Folded],
    components: Collection[int] | None,
) -> Sprayed:
    """What the jobs sprayed. Where one of them reads it, also what jobs of other components sprayed on the same plots:
    facts of others count, their reckonings do not."""
    found: Sprayed = defaultdict(dict)
    _add(found, rows, needs, folded)
    # A job of a replant option carries what closes the option, so the jobs tell.
    if components is not None and any(row.details.get("closed_by") for row in rows.values()):
        plots = few(plot_id__in={row.plot for row in rows.values()})
        others = Job.objects.filter(holding=holding, needs__material__isnull=False, reports__isnull=False, **plots)
        ids = set(others.values_list("pk", flat=True)) - rows.keys()
        here = job_rows(holding, jobs=ids)
        _add(found, here, read_needs(holding.pk, job__in=ids), folded_reports(holding.pk, here, job__in=ids))
    return found


def _add(
    found: Sprayed, rows: Mapping[int, JobRow], needs: Mapping[int, list[Any]], folded: Mapping[int, Folded]
) -> None:
    for job, listed in needs.items():
        if job not in rows:
            continue
        facts, plot = folded[job], rows[job].plot
        last = facts.finished or (facts.parts[-1].at if facts.parts else None)
        if last is None:
            continue
        for need in listed:
            # A comma inside a name is followed by no space: "2,4-D ester, glyphosate" are two actives.
            for active in (part.strip().lower() for part in (need["material__active"] or "").split(", ")):
                if active:
                    found[plot][active] = max(last.late, found[plot].get(active, NEG))


@dataclass(frozen=True, slots=True)
class Closings:
    """What sprays close on the plots of a walk. `rain` are curves of observed rain by property."""

    sprayed: Mapping[int, Mapping[str, int]]
    property: Mapping[int, int]
    rain: Mapping[int, Curve]

    def on(self, plot: int, rules: Iterable[Mapping[str, Any]]) -> tuple[Closed, ...]:
        """What the rules close on the plot, each with its end if there is one."""
        sprayed = self.sprayed.get(plot)
        if not sprayed:
            return ()
        return closed_by([Closing(**rule) for rule in rules], sprayed.items(), self._first_rain(plot))

    def _first_rain(self, plot: int) -> Callable[[int, float], int | None]:
        curve = self.rain.get(self.property[plot])
        return lambda at, inches: first_rain(curve, at, inches)


def first_rain(curve: Curve | None, at: int, inches: float) -> int | None:
    """The end of the first day after `at` with so much observed rain; None as long as there is none."""
    hundredths = round(inches * 100)
    fell = FAR if curve is None else RainClock(curve, Rain(0, hundredths)).reach(at, hundredths)
    return fell if fell < FAR else None


def read_closings(
    sprayed: Sprayed, rows: Mapping[int, JobRow], rules: Iterable[tuple[int, Mapping[str, Any]]], today: date
) -> Closings:
    """Closings of the plots of `rows`; rain is read only where one of the (plot, rule) waits for it after a spray."""
    place = {row.plot: row.property for row in rows.values()}
    waiting = {plot for plot, rule in rules if rule.get("after_rain_in") is not None and sprayed.get(plot)}
    if not waiting:
        return Closings(sprayed, place, {})
    zones = {row.property: row.zone for row in rows.values()}
    first = min(local_day(zones[place[plot]], at) for plot in waiting for at in sprayed[plot].values())
    found = curves({(place[plot], RAIN) for plot in waiting}, zones, min(first, today), today)
    return Closings(sprayed, place, {number: curve for (number, _), curve in found.items()})


BRANCH_COLUMNS = (
    "id", "season_id", "group", "order", "parent_id", "opened_by_id", "outcomes", "expected", "called_off_at",
    "option", "season__plot_id",
)  # fmt: skip


def read_branches(
    holding_id: int, rows: Mapping[int, JobRow], sprayed: Sprayed, today: date
) -> tuple[tuple[Branch, ...], dict[int, str], Closings]:
    """The branches of the jobs' seasons; by branch the active that closes it; and the closings, for the jobs."""
    seasons = {row.season for row in rows.values() if row.season is not None}
    zones = {row.plot: row.zone for row in rows.values()}
    query = BranchRow.objects.filter(holding_id=holding_id, **few(season_id__in=seasons)).order_by("id")
    listed = [row for row in query.values_list(*BRANCH_COLUMNS) if row[1] in seasons] if seasons else []
    rules = [(row[-1], rule) for row in listed for rule in row[-2].get("closed_by", ())]
    rules += [(row.plot, rule) for row in rows.values() for rule in row.details.get("closed_by", ())]
    closings = read_closings(sprayed, rows, rules, today)
    found, closed = [], {}
    for pk, season, group, order, parent, opener, outcomes, expected, off, option, plot in listed:
        last = day_end(zones[plot], date.fromisoformat(option["last_day"])) if option.get("last_day") else None
        lost = (
            c.active
            for c in closings.on(plot, option.get("closed_by", ()))
            if c.firm or (c.until is not None and last is not None and c.until >= last)
        )
        active = next(lost, None)
        if active is not None:
            closed[pk] = active
        found.append(
            Branch(pk, season, group or None, order, parent, opener, frozenset(outcomes), expected, bool(off or active))
        )
    return tuple(found), closed, closings


def add_sprays(facts: dict[int, JobFacts], rows: Mapping[int, JobRow], closings: Closings) -> None:
    """Tell each job what was sprayed before it and closes it."""
    for row in rows.values():
        closed = closings.on(row.plot, row.details["closed_by"]) if row.details.get("closed_by") else ()
        if closed:
            told = tuple(SprayedBefore(c.active, c.at, c.until, c.source, c.note) for c in closed)
            facts[row.id] = replace(facts[row.id], sprayed=told)
