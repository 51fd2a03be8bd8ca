"""Rows to what the rules of reminders read: who works on which jobs, what was given to whom, what was told before."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Q

from core.models import CrewMember, Event, Holding, Notice, NoticeState, Person, Role, Way
from jobs.hours import minute_at
from jobs.minutes import ceil_minute, day_end, day_start, floor_minute, local_day
from jobs.models import (
    Assignment,
    AssignmentState,
    Job,
    JobState,
    Need,
    NeedKind,
    Prerequisite,
    Reckoning,
    Report,
    ReportKind,
)
from jobs.reckoning import forecast_of
from jobs.reference import reference
from jobs.reminder_rules import ASSIGNED, KINDS, STOCK, Begun, Forecast, Given, Hearer, Known, Tell, Use, Work, hearers
from jobs.selectors.facts import CHECK, DESK, JobRow, Loaded
from plots.models import CrewProperty, TellFirst

ALIVE = (JobState.OPEN, JobState.HELD, JobState.UNDER_WAY, JobState.LAPSED)
STAND = "stand"
LOOKS = ("look", STAND)
"""Kinds of holds that somebody's look clears."""
USING = (JobState.OPEN, JobState.HELD, JobState.UNDER_WAY)
LEFT = (NoticeState.CLAIMED, NoticeState.SENT, NoticeState.FOLDED, NoticeState.PARKED)

Rows = Mapping[int, Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class Reach:
    """One way by which a person can be told, with its quiet hours in the person's zone."""

    id: int
    kind: str
    zone: str
    quiet_from: time | None
    quiet_to: time | None


@dataclass(frozen=True, slots=True)
class Past:
    """A notice that was written before: its id, key and way, and its state."""

    id: int
    key: tuple[int, str, int, str]
    way: int | None
    state: str


@dataclass(frozen=True, slots=True)
class Hearing:
    """Everything that the rules read of one walk's jobs. `stock` is by material: (counted, uses)."""

    ways: Mapping[int, list[Reach]]
    people: Mapping[int, Hearer] = field(default_factory=dict)
    managers: tuple[int, ...] = ()
    works: Mapping[int, Work] = field(default_factory=dict)
    past: tuple[Past, ...] = ()
    known: Known = field(default_factory=Known)
    stock: Mapping[int, tuple[float | None, tuple[Use, ...]]] = field(default_factory=dict)


def crews_by_property(holding_id: int) -> tuple[dict[int, set[int]], set[int]]:
    """(crews that look after each property, crews that look after all): a crew without properties looks after all."""
    listed: dict[int, set[int]] = defaultdict(set)
    with_some = set()
    for crew, place in CrewProperty.objects.filter(holding_id=holding_id).values_list("crew_id", "property_id"):
        listed[place].add(crew)
        with_some.add(crew)
    every = set(CrewMember.objects.filter(holding_id=holding_id).values_list("crew_id", flat=True)) - with_some
    return listed, every


def people_of(holding_id: int) -> list[Hearer]:
    """The active people of a holding with their crews."""
    crews: dict[int, set[int]] = defaultdict(set)
    for crew, person in CrewMember.objects.filter(holding_id=holding_id).values_list("crew_id", "person_id"):
        crews[person].add(crew)
    rows = Person.objects.filter(holding_id=holding_id, active=True).order_by("id").values_list("id", "role")
    return [Hearer(pk, role, frozenset(crews.get(pk, ()))) for pk, role in rows]


def ways_of(holding: Holding) -> dict[int, list[Reach]]:
    """By person, viewers left out: the ways that are not stopped, in the order of id."""
    found: dict[int, list[Reach]] = defaultdict(list)
    ways = Way.objects.filter(holding_id=holding.pk, stopped_at=None, person__active=True)
    columns = ("person_id", "id", "kind", "person__zone", "quiet_from", "quiet_to")
    for person, pk, kind, zone, *quiet in ways.exclude(person__role=Role.VIEWER).order_by("id").values_list(*columns):
        found[person].append(Reach(pk, kind, zone or holding.zone, *quiet))
    return found


def hear(
    holding: Holding, loaded: Loaded, rows: Rows, now: datetime, components: Collection[int] | None = None
) -> Hearing:
    """What the rules read of the jobs of `rows`, the reckonings just computed; nothing where nobody can be told.

    A fixed number of queries whatever the number of jobs."""
    ways = ways_of(holding)
    if not ways:
        return Hearing(ways)
    people = people_of(holding.pk)
    managers = tuple(person.id for person in people if person.role == Role.MANAGER)
    alive = {job for job, row in rows.items() if row["state"] in ALIVE}
    past = _past(holding.pk, rows, components)
    known = Known.of((*one.key, one.state in LEFT) for one in past if one.state != NoticeState.WITHDRAWN)
    given = _given(holding, loaded, alive, people, known, components)
    listed, every = crews_by_property(holding.pk)
    minute = floor_minute(now)
    asked = [
        job
        for job in alive
        if rows[job]["state"] == JobState.UNDER_WAY or any((one.day_end or minute) <= minute for one in given[job])
    ]
    heard = _heard(asked)
    tells = _tells(loaded, {job for job in alive if any((one.day_end or 0) > minute for one in given[job])})
    works = {}
    for job in sorted(alive):
        here = loaded.rows[job]
        hands = [one for one in given[job] if one.active]
        workers = hearers(
            people,
            assigned_people=frozenset(person for one in hands for person in one.people),
            assigned_crews=frozenset(),
            crews_here=frozenset(listed.get(here.property, set()) | every),
        )
        works[job] = _work(holding.zone, here, rows[job], workers, tuple(given[job]), tells.get(job, ()), heard)
    _look_once(holding.pk, loaded, rows, works)
    return Hearing(
        ways,
        {person.id: person for person in people},
        managers,
        works,
        past,
        known,
        _stock(holding, loaded, rows, minute, components),
    )


def _past(holding_id: int, rows: Rows, components: Collection[int] | None) -> tuple[Past, ...]:
    """Notices of the jobs of `rows` that are not over, and all that still wait: of the whole holding or of the rows."""
    of = Notice.objects.filter(holding_id=holding_id, kind__in=KINDS)
    shelf = Q(job_id=0, kind=STOCK)
    if components is not None:
        asked = of.filter(Q(job_id__in=list(rows)) | shelf)
    else:
        alive = Reckoning.objects.filter(holding_id=holding_id, state__in=ALIVE).values("job_id")
        asked = of.filter(Q(state=NoticeState.QUEUED) | Q(job_id__in=alive) | shelf)
    columns = ("id", "person_id", "kind", "job_id", "basis", "way_id", "state")
    return tuple(
        Past(pk, (person, kind, job, basis), way, state)
        for pk, person, kind, job, basis, way, state in asked.order_by("id").values_list(*columns)
    )


def _given(
    holding: Holding,
    loaded: Loaded,
    alive: set[int],
    people: Iterable[Hearer],
    known: Known,
    components: Collection[int] | None,
) -> dict[int, list[Given]]:
    members: dict[int, set[int]] = defaultdict(set)
    for person in people:
        for crew in person.crews:
            members[crew].add(person.id)
    rows = Assignment.objects.filter(holding_id=holding.pk)
    if components is not None:
        rows = rows.filter(job__component__in=components)
    columns = ("id", "job_id", "person_id", "crew_id", "day", "starts", "state", "made_at")
    listed = [row for row in rows.order_by("id").values_list(*columns) if row[1] in alive]
    going = {row[0]: frozenset([row[2]] if row[2] else members.get(row[3], ())) for row in listed}
    did = _who_did(holding.pk, [row for row in listed if _is_news(row, going[row[0]], known)])
    found: dict[int, list[Given]] = defaultdict(list)
    for pk, job, _, _, day, starts, state, _ in listed:
        active = state == AssignmentState.ACTIVE
        begins, first, end, next_end = _bounds(loaded.rows[job].zone, day, starts)
        by, ended_by = did.get((pk, "added")), did.get((pk, "ended"))
        found[job].append(Given(pk, going[pk], active, day, begins, first, end, next_end, by, ended_by))
    return found


def _bounds(zone: str, day: date | None, starts: time | None) -> tuple[int | None, int | None, int | None, int | None]:
    """(start of the day, start of the work, end of the day, end of the next day)."""
    if day is None:
        return None, None, None, None
    begins = day_start(zone, day)
    first = begins if starts is None else minute_at(zone, day, starts)
    return begins, first, day_end(zone, day), day_end(zone, day + timedelta(days=1))


def _is_news(row: tuple[Any, ...], people: Iterable[int], known: Known) -> bool:
    """Somebody may have to be told of this assignment, so that it matters who did it."""
    pk, job, state = row[0], row[1], row[6]
    word = "given" if state == AssignmentState.ACTIVE else "ended"
    told = ({basis.split()[1] for basis, _ in known.bases(person, ASSIGNED, job, word)} for person in people)
    return any(str(pk) not in ids for ids in told)


def _who_did(holding_id: int, rows: list[tuple[Any, ...]]) -> dict[tuple[int | None, str], int | None]:
    """By (assignment, added or ended): who did it, from the log."""
    if not rows:
        return {}
    since = min(row[7] for row in rows) - timedelta(minutes=1)
    said = Event.objects.filter(
        holding_id=holding_id, at__gte=since, object="assignment", object_id__in=[row[0] for row in rows]
    )
    return {
        (pk, verb): person for pk, verb, person in said.order_by("id").values_list("object_id", "verb", "person_id")
    }


def _heard(jobs: Collection[int]) -> dict[int, tuple[int, int, str, datetime]]:
    """By job: the last report as (id, person, kind, when it happened); notes say nothing of the work."""
    if not jobs:
        return {}
    said = Report.objects.filter(job__in=jobs).exclude(kind=ReportKind.NOTE).order_by("happened_at", "id")
    columns = ("job_id", "id", "person_id", "kind", "happened_at")
    return {job: (pk, person, kind, at) for job, pk, person, kind, at in said.values_list(*columns)}


def _tells(loaded: Loaded, jobs: set[int]) -> dict[int, tuple[Tell, ...]]:
    places = {loaded.rows[job].property for job in jobs}
    listed = tell_rows(places)
    if not listed:
        return {}
    hazards = dict(Job.objects.filter(pk__in=jobs).values_list("pk", "hazards"))
    found = {}
    for job in jobs:
        here = loaded.rows[job]
        own = hazards_of(here.operation, hazards.get(job, ()))
        rows = [row for row in listed.get(here.property, ()) if is_told(row, here.operation, own)]
        found[job] = tuple(Tell(row.pk, row.lead_hours * 60) for row in rows)
    return found


def tell_rows(properties: Collection[int]) -> dict[int, list[TellFirst]]:
    """By property: who is to be told before work there, in the order of id."""
    found: dict[int, list[TellFirst]] = defaultdict(list)
    if properties:
        for row in TellFirst.objects.filter(property__in=properties).order_by("id"):
            found[row.property_id].append(row)
    return found


def hazards_of(operation: str, own: Iterable[str]) -> frozenset[str]:
    known = reference().operations.get(operation)
    return frozenset([*(known.hazards if known else ()), *own])


def is_told(row: TellFirst, operation: str, hazards: Collection[str]) -> bool:
    """Whether they are told before this operation. A word that nobody knows counts as all work on the land: better told
    once too often than not at all."""
    if row.operation in reference().operations:
        return row.operation == operation
    if row.hazard in reference().cautions:
        return row.hazard in hazards
    return operation not in DESK


def _work(
    zone: str,
    here: JobRow,
    row: Mapping[str, Any],
    workers: tuple[int, ...],
    given: tuple[Given, ...],
    tells: tuple[Tell, ...],
    heard: Mapping[int, tuple[int, int, str, datetime]],
) -> Work:
    late = None if row["latest_start"] is None else floor_minute(row["latest_start"])
    looks = [coded["inputs"]["due"] for coded in row["holds"] if coded["kind"] in LOOKS and "due" in coded["inputs"]]
    look = min(looks, default=None)
    last = heard.get(here.id)
    begun = None
    if last is not None and last[2] == ReportKind.START:
        ends = local_day(here.zone, floor_minute(last[3]) + here.duration)
        begun = Begun(last[0], last[1], day_end(here.zone, ends), day_end(here.zone, ends + timedelta(days=1)))
    return Work(
        id=here.id,
        state=row["state"],
        workers=workers,
        aside=bool(row["detail"].get("aside")),
        late=late,
        late_day=None if late is None else local_day(zone, late),
        look=look,
        look_day=None if look is None else local_day(zone, look),
        given=given,
        tells=tells,
        begun=begun,
        heard_at=None if last is None else ceil_minute(last[3]),
        forecasts=_forecasts(here.zone, row),
    )


def _look_once(holding_id: int, loaded: Loaded, rows: Rows, works: dict[int, Work]) -> None:
    """One look serves all that waits for it: of the jobs on a plot that wait for one observation, the first is told;
    none where an open job of the plot is that very look."""
    looking = {job: _look_arcs(rows[job]) for job, work in works.items() if work.look is not None}
    if not looking:
        return
    arcs = {arc for found in looking.values() for arc in found}
    seen = dict(Prerequisite.objects.filter(holding_id=holding_id, pk__in=arcs).values_list("pk", "confirm"))
    taken = {
        (loaded.rows[job].plot, kind)
        for job, work in works.items()
        if work.state == JobState.OPEN
        for kind in loaded.rows[job].details.get("observes", {}).values()
    }
    taken |= {
        (loaded.rows[job].plot, STAND)
        for job, work in works.items()
        if work.state == JobState.OPEN and loaded.rows[job].operation == CHECK
    }
    for job in sorted(looking, key=lambda pk: (works[pk].aside, works[pk].look or 0, pk)):
        wanted = {(loaded.rows[job].plot, seen.get(arc, "")) for arc in looking[job]}
        if any(coded["kind"] == STAND for coded in rows[job]["holds"]):
            wanted.add((loaded.rows[job].plot, STAND))
        if wanted <= taken:
            works[job] = replace(works[job], look=None, look_day=None)
        taken |= wanted


def _look_arcs(row: Mapping[str, Any]) -> list[int]:
    """Ids of the prerequisites whose holds ask for a look."""
    return [int(coded["rule"].partition(":")[2]) for coded in row["holds"] if coded["kind"] == "look"]


def _forecasts(zone: str, row: Mapping[str, Any]) -> tuple[Forecast, ...]:
    """What the newest forecast says of the next window, and the one before it, as far as they are kept."""
    newest = forecast_of(row)
    if newest is None:
        return ()
    told = [newest, *([row["windows"]["before"]] if "before" in row["windows"] else [])]
    return tuple(_forecast(zone, one) for one in told)


def _forecast(zone: str, told: Mapping[str, Any]) -> Forecast:
    starts = told.get("starts")
    return Forecast(told["issued"], starts, told.get("ends"), None if starts is None else local_day(zone, starts))


def _stock(
    holding: Holding, loaded: Loaded, rows: Rows, minute: int, components: Collection[int] | None
) -> dict[int, tuple[float | None, tuple[Use, ...]]]:
    """By material that jobs of the rows need: what was counted, and what every job of the holding needs and when."""
    counted: dict[int, float | None] = {}
    uses: dict[int, list[Use]] = defaultdict(list)
    for job, row in rows.items():
        for need in loaded.facts.jobs[job].materials:
            counted[need.id] = need.stock
            if row["state"] in USING and not row["detail"].get("aside"):
                uses[need.id] += _use(holding.zone, job, row["earliest_start"], need.needed, minute)
    if components is not None and counted:
        others = Need.objects.filter(
            holding_id=holding.pk, kind=NeedKind.MATERIAL, material__in=list(counted), job__reckoning__state__in=USING
        ).exclude(job__component__in=components)
        columns = (
            "material_id", "job_id", "rate_per_acre", "amount", "job__reckoning__acres_left",
            "job__reckoning__earliest_start", "job__reckoning__detail",
        )  # fmt: skip
        for material, job, rate, amount, left, start, detail in others.order_by("id").values_list(*columns):
            if material is not None and not detail.get("aside"):
                uses[material] += _use(holding.zone, job, start, amount or (rate or 0.0) * (left or 0.0), minute)
    return {material: (counted[material], tuple(uses[material])) for material in sorted(counted)}


def _use(zone: str, job: int, start: datetime | None, amount: float, minute: int) -> list[Use]:
    if start is None or amount <= 0:
        return []
    at = max(minute, ceil_minute(start))
    return [Use(job, at, local_day(zone, at), amount)]
