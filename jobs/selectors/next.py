"""What can be done next, where, by whom, with what, in which hours: the one list behind pages, API and commands."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q

from core.models import CrewMember, FreeException, FreeTime, Holding, Person, Role
from jobs.graph.data import FAR
from jobs.hours import OneDay, Stretch, Weekly, free_on, intersect, minute_at, subtract, union
from jobs.minutes import ceil_minute, floor_minute, instant, local_day
from jobs.models import Assignment, AssignmentState, JobState
from jobs.selectors.answers import answer_rows, answers, week_ahead
from jobs.selectors.around import Around
from jobs.selectors.closures import closures
from jobs.selectors.facts import DESK
from jobs.selectors.visible import visible_jobs
from plots.daylight import daylight
from plots.models import Machine, Property, QuietKind, QuietTime


@dataclass(frozen=True, slots=True)
class Ask:
    """What narrows a list: a property, the machines at hand, so many hours, one day, so many days ahead."""

    property: int | None = None
    machines: frozenset[str] | None = None
    hours: float | None = None
    on: date | None = None
    days: int = 7


def own_jobs(person: Person) -> Any:
    """The jobs that are somebody's to do: given to them or their crews, or given to nobody and theirs to see."""
    active = Assignment.objects.filter(holding_id=person.holding_id, state=AssignmentState.ACTIVE)
    crews = CrewMember.objects.filter(person=person).values("crew_id")
    mine = Q(pk__in=active.filter(Q(person=person) | Q(crew_id__in=crews)).values("job_id"))
    free = ~Q(pk__in=active.values("job_id"))
    return visible_jobs(person).filter(mine | free)


def next_jobs(*, holding: Holding, person: Person, now: datetime, ask: Ask | None = None) -> list[dict[str, Any]]:
    """A person's next jobs: under way and open now, then those that open within seven days.

    Order: in free hours of today, under way, open, opens soon; then latest start, slack, earliest start, id. Each row
    is an answer with `hours`: the person's free stretches in daylight at that place, or none and why.
    """
    ask = ask or Ask()
    if person.role == Role.VIEWER:
        return []
    soon = Q(reckoning__state=JobState.HELD, reckoning__earliest_start__lte=week_ahead(now))
    jobs = own_jobs(person).filter(Q(reckoning__state__in=(JobState.OPEN, JobState.UNDER_WAY)) | soon)
    if ask.property is not None:
        jobs = jobs.filter(plot__property_id=ask.property)
    rows = [row for row in answer_rows(jobs) if _clears_by_itself(row, now)]
    found = answers(holding, rows, now)
    at_hand = _at_hand(holding, ask.machines)
    found = [answer for answer in found if _fits(answer, ask, at_hand)]
    _add_hours(holding, person, found, rows, now, ask)
    if ask.on is not None:
        found = [answer for answer in found if answer["hours"] or not answer["hours_known"]]
    return sorted(found, key=lambda answer: _order(answer, now))


def _clears_by_itself(row: Mapping[str, Any], now: datetime) -> bool:
    """Held by nothing, or by waits alone that end within seven days: nothing else has to happen first."""
    until = floor_minute(week_ahead(now))
    return all(
        coded["clears"]["how"] == "at" and coded["clears"].get("at", FAR) <= until for coded in row["reckoning__holds"]
    )


def _fits(answer: Mapping[str, Any], ask: Ask, at_hand: frozenset[str] | None) -> bool:
    if ask.hours is not None and answer["minutes"] > ask.hours * 60:
        return False
    return at_hand is None or all(_plain(name) in at_hand for name in answer["bring"]["machines"])


def _at_hand(holding: Holding, machines: frozenset[str] | None) -> frozenset[str] | None:
    """The machines that are there, by name and by kind: who has one of the holding's has one of its kind."""
    if machines is None:
        return None
    kinds = Machine.objects.filter(holding=holding, name__in=machines).values_list("kind", flat=True)
    return frozenset(map(_plain, [*machines, *kinds]))


def _plain(name: str) -> str:
    return name.replace("_", " ").lower()


def _order(answer: Mapping[str, Any], now: datetime) -> tuple[Any, ...]:
    rank = 0 if answer["in_hours_now"] else 1 if answer["state"] in ("open", "under_way") else 2
    late = answer["latest_start"]
    slack = answer["slack_days"]
    return (
        rank,
        floor_minute(late) if late else FAR,
        slack if slack is not None else FAR,
        floor_minute(answer["earliest_start"]) if answer["earliest_start"] else FAR,
        answer["job"],
    )


def _add_hours(
    holding: Holding,
    person: Person,
    found: list[dict[str, Any]],
    rows: Sequence[Mapping[str, Any]],
    now: datetime,
    ask: Ask,
) -> None:
    """Put into each answer the person's free stretches, in daylight where the work is outdoors, outside quiet hours."""
    minute = floor_minute(now)
    today = local_day(holding.zone, minute)
    days = [ask.on] if ask.on else [today + timedelta(days=offset) for offset in range(max(1, min(ask.days, 31)))]
    free, known = free_hours(person, holding, days)
    places = Property.objects.filter(pk__in={answer["property"]["id"] for answer in found}).in_bulk()
    light = {pk: _light(place, holding, days) for pk, place in places.items()}
    quiet = _quiet_hours(holding, places, days)
    around = Around(holding, set(places))
    zones = {pk: place.zone or holding.zone for pk, place in places.items()}
    by_job = {row["id"]: row for row in rows}
    for answer in found:
        place = answer["property"]["id"]
        stretches = free if answer["operation"] in DESK else intersect(free, light[place])
        if answer["operation"] not in DESK:
            stretches = _without_quiet(stretches, quiet.get(place, ()), answer)
            closed = closures(
                operation=answer["operation"],
                plot=answer["plot"]["id"],
                zone=zones[place],
                first=min(days),
                last=max(days),
                quiet=around.quiet.get(place, ()),
                contracts=around.contracts.get(place, ()),
                tenure_ends=places[place].tenure_ends,
            )
            stretches = subtract(stretches, [(closure.first, closure.last) for closure in closed])
        row = by_job[answer["job"]]
        start = row["reckoning__earliest_start"]
        waits = [coded["clears"]["at"] for coded in row["reckoning__holds"] if "at" in coded["clears"]]
        begin = max(minute, ceil_minute(start) if start else FAR, *waits)
        stretches = intersect(stretches, [(begin, FAR)])
        answer["hours"] = [
            {"from": instant(a), "to": instant(b), "zone": zones[place]} for a, b in stretches if b - a >= 15
        ]
        answer["hours_known"] = known
        answer["in_hours_now"] = answer["state"] in ("open", "under_way") and any(a <= minute < b for a, b in stretches)
        answer["hours_note"] = _note(answer, known, person)


def _note(answer: Mapping[str, Any], known: bool, person: Person) -> str:
    parts = []
    if not known:
        parts.append(f"No free hours of {person.name} are listed, so none are shown.")
    elif not answer["hours"]:
        parts.append("No free hours in daylight in these days.")
    elif answer["latest_start"] is not None and answer["hours"][0]["from"] > answer["latest_start"]:
        parts.append("Your first free hours come after its last start.")
    if answer["weather"]:
        parts.append("Weather is not read yet for this work: look at sky, ground and label before you go.")
    return " ".join(parts)


def free_hours(person: Person, holding: Holding, days: Collection[date]) -> tuple[list[Stretch], bool]:
    """(free stretches of these days, whether any hours are listed for the person at all)."""
    zone = person.zone or holding.zone
    week = [
        Weekly(*row)
        for row in FreeTime.objects.filter(person=person).order_by("id").values_list("weekday", "starts", "ends")
    ]
    rows = FreeException.objects.filter(person=person, day__in=days).order_by("id")
    exceptions = [OneDay(*row) for row in rows.values_list("day", "starts", "ends", "free")]
    found = union(stretch for day in days for stretch in free_on(day, zone, week, exceptions))
    return found, bool(week or exceptions)


def _light(place: Property, holding: Holding, days: Collection[date]) -> list[Stretch]:
    zone = place.zone or holding.zone
    found = (daylight(place.latitude, place.longitude, day, zone) for day in days)
    return union(stretch for stretch in found if stretch is not None)


Quiet = tuple[str, int | None, str, list[Stretch]]


def _quiet_hours(holding: Holding, places: Mapping[int, Property], days: Collection[date]) -> dict[int, list[Quiet]]:
    """By property: (kind, plot, operation, stretches of these days) of quiet times that name hours."""
    found: dict[int, list[Quiet]] = defaultdict(list)
    rows = QuietTime.objects.filter(property__in=list(places)).exclude(kind=QuietKind.WAY)
    for row in rows.order_by("id"):
        starts, ends = row.from_time, row.to_time
        if starts is None or ends is None:
            continue
        zone = places[row.property_id].zone or holding.zone
        here = [day for day in days if row.first_day <= day <= row.last_day]
        hours = [(minute_at(zone, day, starts), minute_at(zone, day, ends)) for day in here]
        if row.kind == QuietKind.ONLY:
            whole = [
                (minute_at(zone, d, datetime.min.time()), minute_at(zone, d + timedelta(days=1), datetime.min.time()))
                for d in here
            ]
            hours = subtract(union(whole), hours)
        found[row.property_id].append((row.kind, row.plot_id, row.operation, hours))
    return found


def _without_quiet(stretches: list[Stretch], quiet: Sequence[Quiet], answer: Mapping[str, Any]) -> list[Stretch]:
    for _, plot, operation, hours in quiet:
        if plot in (None, answer["plot"]["id"]) and operation in ("", answer["operation"]):
            stretches = subtract(stretches, hours)
    return stretches


def held_jobs(*, holding: Holding, person: Person, now: datetime, limit: int = 200) -> list[dict[str, Any]]:
    """What else waits, held, begun and stopped, or too late, with what holds each, nearest deadline first.

    A way that is too late while another way to the same end can still be met is left out."""
    states = (JobState.HELD, JobState.LAPSED, JobState.UNDER_WAY)
    rows = answer_rows(visible_jobs(person).filter(reckoning__state__in=states))
    rows = [
        row
        for row in rows
        if not _set_aside(row) and (row["reckoning__state"] != JobState.UNDER_WAY or not _clears_by_itself(row, now))
    ]
    found = answers(holding, rows, now)
    return sorted(found, key=lambda a: (a["latest_start"] is None, a["latest_start"] or now, a["job"]))[:limit]


def _set_aside(row: Mapping[str, Any]) -> bool:
    """Too late, but only as one of several ways: another way to the same end stands in the plan."""
    return row["reckoning__state"] == JobState.LAPSED and bool(row["reckoning__detail"].get("aside"))
