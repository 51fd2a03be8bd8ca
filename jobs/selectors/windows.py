"""Windows of many jobs at once: their limits, their hours of weather, and the stretches they have to lie in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any

import orjson

from core.models import Holding
from jobs.graph.data import FAR
from jobs.hours import Stretch, subtract
from jobs.minutes import floor_minute, local_day
from jobs.reference import limits, reference
from jobs.selectors.closures import QuietRow
from jobs.selectors.facts import DESK, Loaded
from jobs.selectors.ground import plot_hours
from jobs.selectors.hours import AHEAD_H, hours_at
from jobs.selectors.own_hours import closed_hours, light_of
from jobs.walk import Result, State, Walk
from jobs.windows.choosing import Chosen, chosen
from jobs.windows.derive import with_derived
from jobs.windows.hours import HOUR
from jobs.windows.several import Asked, next_of, windows_of
from jobs.windows.water import open_access
from plots.agromet.inversion import inverted_stretches
from plots.models import Property, QuietKind, QuietTime

SPRAYS = frozenset({"spray", "spot_spray"})
"""Operations that a layered air forbids."""
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


def limits_for(operation: str, details: Mapping[str, Any], overruled: Iterable[str] = ()) -> Chosen:
    """The limits of a job by its operation and what its step says."""
    return _limits(operation, orjson.dumps(details.get("limits", ())), frozenset(overruled))


@lru_cache(4_096)
def _limits(operation: str, rows: bytes, overruled: frozenset[str]) -> Chosen:
    return chosen(operation, orjson.loads(rows), limits(), overruled)


def job_windows(holding: Holding, loaded: Loaded, walk: Walk, now: datetime) -> JobWindows:
    """The windows of the walk's jobs that are open, under way, or held by nothing but waits that end in the frame of
    the forecast, which begins with the holding's local day. A fixed number of queries whatever the number of jobs."""
    since = loaded.facts.problem.today
    until = since + AHEAD_H * HOUR
    begins = {
        job: begin
        for job, result in walk.results.items()
        if needs_windows(loaded.rows[job].operation) and (begin := _begins(result, since)) < until
    }
    if not begins:
        return JobWindows()
    known = hours_at([loaded.rows[job].property for job in begins], now, since)
    frame = _Frame(holding, {loaded.rows[job].property for job in begins}, since, until)
    frame.river = {pk: open_access(gate, known.hours, known.place[pk]) for pk, gate in known.gates.items()}
    plots = plot_hours(known, {loaded.rows[job].plot: loaded.rows[job].property for job in begins}, holding, now)
    asked = [_asked(loaded, job, plots.place[loaded.rows[job].plot], frame, begins[job]) for job in sorted(begins)]
    found = windows_of(asked, with_derived(plots.hours), since)
    minute, wake = floor_minute(now), known.stale_at
    for job, told in found.items():
        place = loaded.rows[job].property
        for name, issued in (("issued", known.issued.get(place)), ("last", known.last.get(place))):
            if issued is not None:
                told[name] = floor_minute(issued)
        ahead = next_of(told, minute)
        if ahead is not None:
            told["next"] = ahead["from"]
            wake = min(wake, ahead["to"])
    return JobWindows(found, wake)


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


def _asked(loaded: Loaded, job: int, place: int, frame: _Frame, begins: int) -> Asked:
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
        if bound.first > frame.since and bound.kind not in own.overridden:
            closed[AHEAD.get(bound.kind, RULE)].append((bound.first, bound.last))
    for name, stretches in closed.items():
        inside[name] = subtract([(frame.since, frame.until)], stretches)
    if "prescription" in row.details.get("burn_plan", {}):
        inside["prescription"] = [(start, end) for start, end in row.details["burn_plan"]["prescription"]]
    return Asked(
        job,
        place,
        limits_for(row.operation, row.details, own.overridden),
        inside,
        round(row.duration * left),
        bool(work.get("may_split")),
        int(work.get("least_piece_min", 0)),
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
