"""Windows of many jobs at once: their limits, their hours of weather, and the stretches they have to lie in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any

import numpy as np
import orjson

from core.models import Holding
from jobs.graph.data import FAR
from jobs.hours import Stretch, subtract
from jobs.minutes import floor_minute, local_day
from jobs.reference import limits, reference
from jobs.selectors.closures import QuietRow
from jobs.selectors.facts import DESK, Loaded
from jobs.selectors.ground import plot_hours
from jobs.selectors.hours import AHEAD_H, PlaceHours, bounded_places, hours_at
from jobs.selectors.joined import JoinedLimits, own_limits
from jobs.selectors.own_hours import closed_hours, light_of
from jobs.walk import Result, State, Walk
from jobs.windows.catalogue import ANY
from jobs.windows.choosing import NOTHING, Chosen, Joined, chosen
from jobs.windows.coding import limit_decoded
from jobs.windows.derive import with_derived
from jobs.windows.fuel import moisture_hours
from jobs.windows.hours import HOUR, Floats, Hours
from jobs.windows.limits import Rank
from jobs.windows.plan import moisture_name, optional_of
from jobs.windows.several import Asked, next_of, windows_of
from jobs.windows.water import open_access
from plots.agromet.inversion import inverted_stretches
from plots.models import Property, QuietKind, QuietTime

SPRAYS = frozenset({"spray", "spot_spray"})
"""Operations that a layered air forbids."""
SHORTEST_MIN = 15
"""Work whose hours the weather does not decide is offered what hours are left; shorter ones are nobody's."""
RULE = "rule"
AHEAD = {"exclusion_zone": "others near", "permit": "permit"}
"""Kinds of rules of law and label that close hours to come, by the name of the stretch."""
LOOKED_AT = frozenset({State.OPEN, State.UNDER_WAY, State.HELD})


@dataclass(frozen=True, slots=True)
class JobWindows:
    """By job its windows as they are stored, and the minute at which they would differ with equal facts."""

    by_job: Mapping[int, dict[str, Any]] = field(default_factory=dict)
    wake_at: int = FAR


def needs_windows(operation: str) -> bool:
    """Whether the weather decides in which hours an operation may go."""
    known = reference().operations.get(operation)
    return operation not in DESK and known is not None and bool(known.weather)


def limits_for(
    operation: str, details: Mapping[str, Any], overruled: Iterable[str] = (), joined: Joined = NOTHING
) -> Chosen:
    """The limits of a job by its operation, what its step says, and what joins them."""
    return _limits(operation, orjson.dumps(details.get("limits", ())), frozenset(overruled), joined)


@lru_cache(4_096)
def _limits(operation: str, rows: bytes, overruled: frozenset[str], joined: Joined) -> Chosen:
    return chosen(operation, orjson.loads(rows), limits(), overruled, joined, decides=needs_windows(operation))


def joined_of(stored: Mapping[str, Any]) -> Joined:
    """What had joined the limits of a job when its windows were stored."""
    every = [limit_decoded(told) for told in stored.get("joined", ())]
    label = tuple(limit for limit in every if limit.rank is Rank.LABEL)
    return Joined(label, tuple(limit for limit in every if limit.rank is not Rank.LABEL), optional_of(every))


def job_windows(holding: Holding, loaded: Loaded, walk: Walk, now: datetime) -> JobWindows:
    """The windows of the walk's jobs that are open, under way, or held by nothing but waits that end in the frame of
    the forecast, which begins with the holding's local day. A fixed number of queries whatever the number of jobs.

    Work whose hours the weather does not decide has windows only where a river, heat, cold, thunder or a limit of the
    holding's own takes hours from it."""
    since = loaded.facts.problem.today
    until = since + AHEAD_H * HOUR
    begins = {
        job: begin
        for job, result in walk.results.items()
        if loaded.rows[job].operation not in DESK and (begin := _begins(result, since)) < until
    }
    rows = {job: loaded.rows[job] for job in begins}
    decided = {job for job, row in rows.items() if needs_windows(row.operation)}
    own = own_limits(holding) if rows else []
    if not decided and not own and not bounded_places({row.property for row in rows.values()}):
        return JobWindows()
    known = hours_at([row.property for row in rows.values()], now, since)
    known = replace(known, hours=with_derived(known.hours))
    plots = plot_hours(known, {rows[job].plot: rows[job].property for job in decided}, holding, now)
    joined = JoinedLimits(holding, rows, known.hours.first, own)
    hard = _hard(known, since)
    closed = {job for job in rows.keys() - decided if rows[job].property in hard or joined.own_of(rows[job])}
    if not decided and not closed:
        return JobWindows(wake_at=known.stale_at)
    frame = _Frame(holding, {rows[job].property for job in decided | closed}, since, until)
    frame.river = {pk: open_access(gate, known.hours, known.place[pk]) for pk, gate in known.gates.items()}
    minute, wake = floor_minute(now), known.stale_at
    found: dict[int, dict[str, Any]] = {}
    burns = [(rows[job].plot, rows[job].zone, rows[job].details) for job in sorted(decided)]
    hours = with_moisture(plots.hours, plots.place, burns, since)

    def asked(job: int, place: int) -> Asked:
        under_way = walk.results[job].state is State.UNDER_WAY
        return _asked(loaded, job, place, frame, begins[job], joined, under_way)

    found |= windows_of((asked(job, plots.place[rows[job].plot]) for job in sorted(decided)), hours, since)
    found |= windows_of((asked(job, known.place[rows[job].property]) for job in sorted(closed)), known.hours, since)
    for job, told in found.items():
        place = rows[job].property
        for name, issued in (("issued", known.issued.get(place)), ("last", known.last.get(place))):
            if issued is not None:
                told[name] = floor_minute(issued)
        if job in closed:
            if place not in frame.river:
                told["beyond"] = until
            continue
        ahead = next_of(told, minute)
        if ahead is not None:
            told["next"] = ahead["from"]
            wake = min(wake, ahead["to"])
    return JobWindows(found, wake)


def _hard(known: PlaceHours, since: int) -> set[int]:
    """Properties where a river closes the access, or where heat, cold or thunder is known to come over all work."""
    begin = max((since - known.hours.first) // HOUR, 0)
    broken = np.zeros(known.hours.places, dtype=bool)
    for default in limits():
        if ANY in default.operations:
            broken |= (default.limit.rule.margin(known.hours)[:, begin:] < 0).any(axis=1)
    return {pk for pk, at in known.place.items() if pk in known.gates or broken[at]}


def with_moisture(
    hours: Hours, place: Mapping[int, int], jobs: Iterable[tuple[int, str, Mapping[str, Any]]], since: int
) -> Hours:
    """The same hours with the fine fuel moisture of the burns whose plans ask for it, each on its plot alone.

    `jobs` are (plot, zone, details)."""
    columns: dict[str, Floats] = {}
    for plot, zone, details in jobs:
        plan = details.get("burn_plan", {})
        if "moisture_least_pct" in plan or "moisture_most_pct" in plan:
            at = place[plot]
            column = columns.setdefault(moisture_name(plan), np.full((hours.places, hours.count), np.nan))
            column[at] = moisture_hours(
                hours, at, zone, shaded=plan["shaded"], aspect_deg=plan["aspect_deg"], slope_pct=plan["slope_pct"],
                since=since,
            )  # fmt: skip
    return replace(hours, values={**hours.values, **columns}) if columns else hours


def _begins(result: Result, since: int) -> int:
    """From when a job may go by its prerequisites and waits; FAR where something else has to happen first."""
    if result.state not in LOOKED_AT:
        return FAR
    if result.state is State.UNDER_WAY:
        return since
    begin = max(result.dates.es, since)
    for hold in result.holds:
        if hold.clears.how != "at" or hold.clears.at is None:
            return FAR
        begin = max(begin, hold.clears.at)
    return begin


def _asked(
    loaded: Loaded, job: int, place: int, frame: _Frame, begins: int, joined: JoinedLimits, under_way: bool
) -> Asked:
    row, own, folded = loaded.rows[job], loaded.facts.jobs[job], loaded.folded[job]
    left = 1.0 if not row.acres else max(0.0, row.acres - folded.acres_done) / row.acres
    work = row.details.get("work", {})
    inside: dict[str, Sequence[Stretch]] = {"daylight": frame.light[row.property]}
    if row.property in frame.river:
        inside["river"] = frame.river[row.property]
    if row.operation in SPRAYS:
        inside["inversion"] = frame.mixed[row.property]
    if begins > frame.since or own.last is not None:
        inside["job"] = [(begins, FAR if own.last is None else own.last)]
    closed: dict[str, list[Stretch]] = defaultdict(list)
    for closure in own.closures:
        closed[closure.kind].append((closure.first, closure.last))
    for quiet, stretches in frame.quiet.get(row.property, ()):
        if quiet.plot in (None, row.plot) and quiet.operation in ("", row.operation):
            closed["quiet hours"] += stretches
    for bound in own.bounds:
        # What holds a job from before the frame has moved its begin; work under way has none, so it closes hours too.
        ahead = bound.last > frame.since if under_way else bound.first > frame.since
        if ahead and bound.kind not in own.overridden:
            closed[AHEAD.get(bound.kind, RULE)].append((bound.first, bound.last))
    for name, stretches in closed.items():
        inside[name] = subtract([(frame.since, frame.until)], stretches)
    if "prescription" in row.details.get("burn_plan", {}):
        inside["prescription"] = [(start, end) for start, end in row.details["burn_plan"]["prescription"]]
    decides = needs_windows(row.operation)
    added = joined.of(row, limits_for(row.operation, row.details).by_key)
    return Asked(
        job,
        place,
        limits_for(row.operation, row.details, own.overridden, added),
        inside,
        round(row.duration * left),
        bool(work.get("may_split")) or not decides,
        int(work.get("least_piece_min", 0)) if decides else SHORTEST_MIN,
        decides,
        added.limits,
    )


class _Frame:
    """What bounds hours at some properties: light, hours in which the air has mixed, quiet hours. Two queries."""

    def __init__(self, holding: Holding, properties: Collection[int], since: int, until: int) -> None:
        self.since, self.until = since, until
        self.light: dict[int, Sequence[Stretch]] = {}
        self.mixed: dict[int, Sequence[Stretch]] = {}
        self.river: dict[int, Sequence[Stretch]] = {}
        self.quiet: dict[int, list[tuple[QuietRow, list[Stretch]]]] = defaultdict(list)
        days: dict[int, tuple[tuple[date, ...], str]] = {}
        places = Property.objects.filter(holding_id=holding.pk, pk__in=sorted(properties)).order_by("id")
        for pk, zone, latitude, longitude in places.values_list("pk", "zone", "latitude", "longitude"):
            zone = zone or holding.zone
            first, last = local_day(zone, since), local_day(zone, until)
            here = tuple(first + timedelta(days=n) for n in range((last - first).days + 1))
            days[pk] = here, zone
            self.light[pk] = light_of(latitude, longitude, zone, here)
            layered = inverted_stretches(list(self.light[pk])) if self.light[pk] else [(since, until)]
            self.mixed[pk] = subtract([(since, until)], layered)
        rows = QuietTime.objects.filter(property_id__in=sorted(properties), from_time__isnull=False)
        for quiet in rows.exclude(kind=QuietKind.WAY).order_by("id"):
            row = QuietRow(
                quiet.pk,
                quiet.kind,
                quiet.property_id,
                quiet.plot_id,
                quiet.first_day,
                quiet.last_day,
                quiet.operation,
                quiet.reason,
            )
            if quiet.from_time is not None and quiet.to_time is not None:
                stretches = closed_hours(row, quiet.from_time, quiet.to_time, *days[quiet.property_id])
                self.quiet[quiet.property_id].append((row, stretches))
