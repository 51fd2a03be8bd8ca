"""When a burn can be lit at the latest, whether its crew makes it, and until which day the land may burn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from core.errors import Refused
from core.models import Holding, Person
from jobs.hours import Stretch, minute_at, subtract
from jobs.minutes import floor_minute, instant, local_day
from jobs.models import Job, Reckoning
from jobs.selectors.closures import ContractRow, QuietRow, closures
from jobs.selectors.own_hours import OwnHours
from jobs.windows.ignition import BurnPlan, Crew, Evening, evening
from jobs.windows.picture import clock
from jobs.windows.words import duration
from plots.daylight import daylight
from plots.models import Contract, QuietKind, QuietTime

YEAR = 366
UNKNOWN = "Nobody typed hours in prescription, and no forecast gives any: not known, so no burn."
CLOSED = "No hours in prescription on a day that is open."
DECIDES = (
    "The burn boss decides on the day; permit, fire dispatch and local law come first. "
    "This is arithmetic, no permission."
)


@dataclass(frozen=True, slots=True)
class Coming:
    """Who said yes; `free_at` is when all are free on a local day, without it as each one's free hours have it."""

    people: tuple[Person, ...] = ()
    travel_min: int = 0
    free_at: time | None = None


def ignition(holding: Holding, job: Job, coming: Coming, now: datetime) -> dict[str, Any]:
    """For every stretch in prescription that is not over and on a day that is not closed: the latest ignition, whether
    the crew is ready by then, and else by how much not. Missing hours are no.

    Raises:
        Refused: the job is no burn, or its plan's figures are not there.
    """
    plan = plan_of(job)
    zone, minute = job.plot.property.zone or holding.zone, floor_minute(now)
    last_day, opens = _legal(job, zone, local_day(zone, minute))
    typed = job.details["burn_plan"].get("prescription")
    listed = _stretches(job, typed, minute)
    closed = _closed(job, zone, minute)
    evenings = []
    for stretch in listed:
        day = local_day(zone, stretch[0])
        light = daylight(job.plot.property.latitude, job.plot.property.longitude, day, zone)
        if light is None or not subtract([stretch], closed):
            continue
        crew = _crew(holding, coming, day, zone, stretch)
        found = evening(plan, stretch, light[1], crew)
        evenings.append(_told(plan, stretch, found, light[1], zone, bool(coming.people)))
    first = evenings[0] if evenings else None
    later = next((one for one in evenings if one is not first and one["latest_ignition"] >= one["from"]), None)
    return {
        "job": job.pk,
        "zone": zone,
        "plan": {"burn_out_min": plan.burn_out_min, "mop_up_min": plan.mop_up_min, "briefing_min": plan.briefing_min,
                 "least_crew": plan.least_crew},
        "known": bool(listed),
        "typed": bool(typed),
        "can_be": bool(first and first["can_be"]),
        "evenings": evenings,
        "last_legal_day": last_day,
        "legal_again": opens,
        "sentence": _sentence(listed, first, later, last_day, opens, zone),
        "decides": DECIDES,
    }  # fmt: skip


def plan_of(job: Job) -> BurnPlan:
    """The figures of the unit's plan.

    Raises:
        Refused: the job is no burn, or nobody typed the figures.
    """
    if job.operation != "burn":
        raise Refused("This job is no burn, so nothing is lit.", code="no_burn")
    told = job.details.get("burn_plan")
    if not told:
        raise Refused(
            "The plan's figures are not there: give burn-out, mop-up, briefing and least crew under burn-plan/.",
            code="no_plan",
        )
    return BurnPlan(told["burn_out_min"], told["mop_up_min"], told["briefing_min"], told["least_crew"])


def _stretches(job: Job, typed: Sequence[Sequence[int]] | None, minute: int) -> list[Stretch]:
    """Typed hours in prescription, else the windows that the walk found."""
    if typed:
        found = [(start, end) for start, end in typed]
    else:
        stored = Reckoning.objects.filter(pk=job.pk).values_list("windows", flat=True).first() or {}
        found = [(window["from"], window["to"]) for window in stored.get("found", ())]
    return sorted((max(start, minute), end) for start, end in found if end > minute)


def _closed(job: Job, zone: str, minute: int) -> list[Stretch]:
    first = local_day(zone, minute)
    return [(c.first, c.last) for c in _closures(job, zone, first, first + timedelta(days=2 * YEAR))]


def _closures(job: Job, zone: str, first: date, last: date) -> Sequence[Any]:
    place = job.plot.property
    quiet = [
        QuietRow(q.pk, q.kind, q.property_id, q.plot_id, q.first_day, q.last_day, q.operation, q.reason)
        for q in QuietTime.objects.filter(property=place, from_time=None).exclude(kind=QuietKind.WAY).order_by("id")
    ]
    contracts = [
        ContractRow(
            c.pk, c.property_id, c.plot_id, c.practice, c.first_day, c.last_day, c.closed_from, c.closed_to,
            tuple(c.closed_operations), c.source,
        )
        for c in Contract.objects.filter(property=place).order_by("id")
    ]  # fmt: skip
    return closures(
        operation=job.operation, plot=job.plot_id, zone=zone, first=first, last=last, quiet=quiet,
        contracts=contracts, tenure_ends=place.tenure_ends,
    )  # fmt: skip


def _legal(job: Job, zone: str, today: date) -> tuple[date | None, date | None]:
    """(last day before the contract's next closed season, first day after it); None, None where none comes in a year.

    Within one, the first is None."""
    seasons = [c for c in _closures(job, zone, today, today + timedelta(days=YEAR)) if c.kind == "contract"]
    if not seasons:
        return None, None
    first, again = local_day(zone, seasons[0].first), local_day(zone, seasons[0].last)
    return (None if first <= today else first - timedelta(days=1)), again


def _crew(holding: Holding, coming: Coming, day: date, zone: str, stretch: Stretch) -> list[Crew]:
    found = []
    for person in coming.people:
        if coming.free_at is not None:
            free: int | None = minute_at(zone, day, coming.free_at)
        else:
            hours = OwnHours(holding, person, [day]).free
            free = next((start for start, end in hours if end > stretch[0]), None)
        if free is not None:
            found.append(Crew(person.name, free, coming.travel_min))
    return found


def _told(plan: BurnPlan, stretch: Stretch, found: Evening, light_ends: int, zone: str, asked: bool) -> dict[str, Any]:
    hours = f"{clock(stretch[0], zone)} to {_clock(stretch[1], zone)}"
    sentence = f"{hours}: latest ignition {_clock(found.latest_ignition, zone)}"
    binds = (
        f"{duration(plan.burn_out_min)} of burn-out and {duration(plan.mop_up_min)} of mop-up end in light at "
        f"{_clock(light_ends, zone)}"
        if found.binds == "light"
        else f"{duration(plan.burn_out_min)} of burn-out end in prescription at {_clock(stretch[1], zone)}"
    )
    if not asked:
        verdict = f"everybody has to leave for it in time: ready by then, briefed for {plan.briefing_min} min"
    elif found.crew_short:
        verdict = f"no: {found.crew_short} of {plan.least_crew} people missing"
    elif found.short_min:
        verdict = f"no, {found.short_min} min short; possible if all leave by {_clock(found.leave_by, zone)}"
    else:
        verdict = f"yes by the hours: the crew is ready {_clock(found.ready or 0, zone)}"
    return {
        "from": instant(stretch[0]),
        "to": instant(stretch[1]),
        "latest_ignition": instant(found.latest_ignition),
        "binds": found.binds,
        "light_ends": instant(light_ends),
        "ready": instant(found.ready),
        "short_min": found.short_min,
        "leave_by": instant(found.leave_by),
        "crew_short": found.crew_short,
        "can_be": found.can_be,
        "verdict": verdict,
        "sentence": f"{sentence} ({binds}). {verdict[:1].upper()}{verdict[1:]}.",
    }


def _sentence(
    listed: Sequence[Stretch],
    first: Mapping[str, Any] | None,
    later: Mapping[str, Any] | None,
    last_day: date | None,
    opens: date | None,
    zone: str,
) -> str:
    parts = [first["sentence"] if first else CLOSED if listed else UNKNOWN]
    if later is not None:
        day = _day(local_day(zone, floor_minute(later["from"])))
        parts.append(
            f"Next: {clock(floor_minute(later['from']), zone)} to {_clock(floor_minute(later['to']), zone)}, lit by "
            f"{_clock(floor_minute(later['latest_ignition']), zone)}; call the crew for {day} now."
        )
    if opens is not None:
        legal = f"Last legal day {_day(last_day)}; then" if last_day is not None else "Closed by the contract until"
        parts.append(f"{legal} {_day(opens)}.")
    return " ".join(parts)


def _clock(minute: int, zone: str) -> str:
    return clock(minute, zone).rsplit(" ", 1)[1]


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
