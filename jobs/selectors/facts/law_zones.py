"""Who else is at work near a spray, and when: what the application exclusion zone is judged by."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef

from core.models import Holding
from jobs.folding import Folded
from jobs.law.zones import Place, Presence, feet_apart
from jobs.minutes import ceil_minute, day_end, day_start, floor_minute, instant, local_day
from jobs.models import Assignment, AssignmentState, Report, ReportKind
from jobs.selectors.facts.law_rows import confirmed_people
from jobs.selectors.facts.rows import JobRow, job_rows
from jobs.selectors.facts.told import folded_reports
from plots.models import Plot

BEHIND = timedelta(days=1)
"""A job begun on a day counts as at work until that day is over, so yesterday's are the oldest that may matter."""


@dataclass(frozen=True, slots=True)
class _At:
    """People on a job from a minute to another."""

    row: JobRow
    people: frozenset[int]
    first: int
    last: int
    begun: bool


@dataclass(frozen=True, slots=True)
class _Ground:
    """Where a plot lies: by its outline where it is `drawn`, else by the boundary of its property, if there is one."""

    place: Place
    drawn: bool


def presences(
    holding: Holding, sprays: Collection[JobRow], going: Mapping[int, Collection[int]], minute: int
) -> dict[int, list[Presence]]:
    """By spray the others who are given a job on a day, or have begun one, each with how far away its plot is.

    Whoever goes to the spray is no other, and neither are jobs of its round. An assignment without a day says nothing
    of when; without hours it counts all day."""
    if not sprays:
        return {}
    there = list(_at_work(holding, local_day(holding.zone, minute)))
    if not there:
        return {}
    grounds = _grounds({row.plot for row in sprays} | {one.row.plot for one in there})
    found: dict[int, list[Presence]] = defaultdict(list)
    for spray in sprays:
        crew = frozenset(going.get(spray.id, ()))
        for one in there:
            same_round = spray.round is not None and one.row.round == spray.round
            if one.row.id == spray.id or same_round or one.people <= crew:
                continue
            feet = 0.0 if spray.plot == one.row.plot else _feet(grounds, spray, one.row)
            found[spray.id].append(Presence(one.row.id, one.first, one.last, feet, one.begun))
    return dict(found)


def _feet(grounds: Mapping[int, _Ground], spray: JobRow, other: JobRow) -> float | None:
    """On one property only outlines of both plots tell; from another one its boundary does, too."""
    mine, theirs = grounds[spray.plot], grounds[other.plot]
    if spray.property == other.property and not (mine.drawn and theirs.drawn):
        return None
    return feet_apart(mine.place, theirs.place)


def _at_work(holding: Holding, today: date) -> Iterator[_At]:
    since = day_start(holding.zone, today - BEHIND)
    given = list(
        Assignment.objects.filter(holding_id=holding.pk, state=AssignmentState.ACTIVE, day__gte=today - BEHIND)
        .order_by("id")
        .values_list("job_id", "day", "starts", "ends")
    )
    begun: dict[int, set[int]] = defaultdict(set)
    began = Report.objects.filter(holding_id=holding.pk, kind=ReportKind.START, happened_at__gte=instant(since))
    taken_back = Report.objects.filter(corrects=OuterRef("pk"), kind=ReportKind.WITHDRAWN)
    for job, person in began.exclude(Exists(taken_back)).order_by("id").values_list("job_id", "person_id"):
        begun[job].add(person)
    jobs = {job for job, *_ in given} | begun.keys()
    if not jobs:
        return
    rows = job_rows(holding, jobs=jobs)
    folded = folded_reports(holding.pk, rows, job__in=jobs)
    going = confirmed_people(holding.pk, jobs)
    ended = {job for job, row in rows.items() if _is_over(row, folded[job])}
    for job, day, starts, ends in given:
        people = going.get(job, frozenset())
        if day is not None and job in rows and job not in ended and people:
            first, last = _hours(rows[job].zone, day, starts, ends)
            yield _At(rows[job], people, first, last, begun=False)
    for job in sorted(begun.keys() & rows.keys()):
        told = folded[job].started
        if job not in ended and told is not None:
            last = day_end(rows[job].zone, local_day(rows[job].zone, told.early))
            yield _At(rows[job], going.get(job, frozenset()) | begun[job], told.early, last, begun=True)


def _is_over(row: JobRow, told: Folded) -> bool:
    off = row.called_off_at is not None or row.season_off is not None
    return off or told.finished is not None or told.skipped is not None


def _hours(zone: str, day: date, starts: time | None, ends: time | None) -> tuple[int, int]:
    if starts is None or ends is None:
        return day_start(zone, day), day_end(zone, day)
    there = ZoneInfo(zone)
    return (
        floor_minute(datetime.combine(day, starts, there)),
        ceil_minute(datetime.combine(day, ends, there)),
    )


def _grounds(plots: Iterable[int]) -> dict[int, _Ground]:
    rows = Plot.objects.filter(pk__in=sorted(plots)).values_list(
        "pk", "polygon", "property__boundary", "latitude", "longitude", "property__latitude", "property__longitude"
    )
    return {
        pk: _Ground(
            Place(polygon or boundary, (there_lat if lat is None else lat, there_lon if lon is None else lon)),
            bool(polygon),
        )
        for pk, polygon, boundary, lat, lon, there_lat, there_lon in rows
    }
