"""When a person can be at a place: their free hours in daylight, outside what closes the land. One query for
any number of places and jobs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from datetime import time as wall
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from django.db.models import DateField, OuterRef, QuerySet

from core.models import FreeException, FreeTime, Holding, Person
from core.selectors.prepared import Given, Prepared, as_data, listed
from jobs.graph.data import FAR
from jobs.hours import OneDay, Stretch, Weekly, free_on, intersect, minute_at, subtract, union
from jobs.minutes import ceil_minute
from jobs.selectors.closures import ContractRow, QuietRow, closures
from jobs.selectors.facts import DESK
from plots.daylight import daylight
from plots.models import Contract, QuietKind, QuietTime

Stretches = tuple[Stretch, ...]
TENURE = "plot__property__tenure_ends"


def _hours() -> QuerySet[Any, Any]:
    days = {"day__gte": Given("first", DateField()), "day__lte": Given("last", DateField())}
    quiet = QuietTime.objects.filter(
        holding_id=OuterRef("holding_id"),
        first_day__lte=Given("last", DateField()),
        last_day__gte=Given("first", DateField()),
    ).exclude(kind=QuietKind.WAY)
    contracts = Contract.objects.filter(holding_id=OuterRef("holding_id")).exclude(closed_from="")
    return Person.objects.filter(pk=Given("person")).values_list(
        listed(FreeTime.objects.filter(person_id=OuterRef("pk")), "weekday", "starts", "ends"),
        listed(FreeException.objects.filter(person_id=OuterRef("pk"), **days), "day", "starts", "ends", "free"),
        listed(quiet, *_QUIET, "from_time", "to_time"),
        listed(contracts, *_CONTRACT),
    )


_QUIET = "id", "kind", "property_id", "plot_id", "first_day", "last_day", "operation", "reason"
_CONTRACT = (
    "id", "property_id", "plot_id", "practice", "first_day", "last_day", "closed_from", "closed_to",
    "closed_operations", "source",
)  # fmt: skip
_HOURS = Prepared(_hours)


class OwnHours:
    """The free hours of one person on some days, by place and kind of work."""

    def __init__(self, holding: Holding, person: Person, days: Sequence[date]) -> None:
        self.zone = holding.zone
        self.days = tuple(days)
        self.first, self.last = min(days), max(days)
        ((*own, quiet, contracts),) = _HOURS.raw(person=person.pk, first=self.first, last=self.last)
        self.known, self.free = _free(self.days, person.zone or holding.zone, *own)
        self.shut = _shut(quiet, contracts)

    def at(self, row: Mapping[str, Any], minute: int) -> list[Stretch]:
        """The stretches in which the job of a row of `answer_rows` can be worked on, sorted: from a minute on, and from
        its earliest start and the ends of its waits."""
        stretches = self.free if row["operation"] in DESK else self._outdoors(row)
        start = row["reckoning__earliest_start"]
        begin = max(minute, ceil_minute(start) if start else FAR)
        for coded in row["reckoning__holds"]:
            begin = max(begin, coded["clears"].get("at", begin))
        if not stretches or begin <= stretches[0][0]:
            return list(stretches)
        return [(low if low > begin else begin, high) for low, high in stretches if high > begin]

    def _outdoors(self, row: Mapping[str, Any]) -> Stretches:
        latitude, longitude = row["plot__property__latitude"], row["plot__property__longitude"]
        zone, tenure_ends = row["plot__property__zone"] or self.zone, row[TENURE]
        shut = self.shut.get(row["plot__property_id"])
        light = _in_light(self.free, latitude, longitude, zone, self.days)
        if shut is None and (tenure_ends is None or tenure_ends >= self.last):
            return light
        return _kept_open(light, shut, row["operation"], row["plot_id"], tenure_ends, zone, self.days)


@lru_cache(maxsize=4_096)
def _in_light(free: Stretches, latitude: float, longitude: float, zone: str, days: tuple[date, ...]) -> Stretches:
    return tuple(intersect(free, light_of(latitude, longitude, zone, days)))


@lru_cache(maxsize=4_096)
def _kept_open(
    stretches: Stretches,
    shut: _Shut | None,
    operation: str,
    plot: int,
    tenure_ends: date | None,
    zone: str,
    days: tuple[date, ...],
) -> Stretches:
    """The stretches less what closes a property or plot to an operation."""
    left = list(stretches)
    shut = shut or _Shut()
    for quiet, starts, ends in shut.hours:
        if quiet.plot in (None, plot) and quiet.operation in ("", operation):
            left = subtract(left, closed_hours(quiet, starts, ends, days, zone))
    closed = closures(
        operation=operation,
        plot=plot,
        zone=zone,
        first=min(days),
        last=max(days),
        quiet=shut.quiet,
        contracts=shut.contracts,
        tenure_ends=tenure_ends,
    )
    return tuple(subtract(left, [(closure.first, closure.last) for closure in closed]))


def closed_hours(quiet: QuietRow, starts: wall, ends: wall, days: Sequence[date], zone: str) -> list[Stretch]:
    """What quiet hours close on some days: the hours themselves, or all of those days but them."""
    here = [day for day in days if quiet.first_day <= day <= quiet.last_day]
    hours = [(minute_at(zone, day, starts), minute_at(zone, day, ends)) for day in here]
    if quiet.kind != QuietKind.ONLY:
        return hours
    whole = [(minute_at(zone, d, wall()), minute_at(zone, d + timedelta(days=1), wall())) for d in here]
    return subtract(union(whole), hours)


@lru_cache(maxsize=1_024)
def _free(days: tuple[date, ...], zone: str, week: str | None, exceptions: str | None) -> tuple[bool, Stretches]:
    """(whether any are listed, the free stretches), by the lists as the database tells them."""
    usual = [Weekly(day, _time(starts), _time(ends)) for day, starts, ends in as_data(week) or ()]
    other = [
        OneDay(_day(day), _time(starts), _time(ends), bool(free))
        for day, starts, ends, free in as_data(exceptions) or ()
    ]
    found = union(stretch for day in days for stretch in free_on(day, zone, usual, other))
    return bool(usual or other), tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class _Shut:
    """What closes one property. Its own key, by identity, of what is reckoned from it."""

    quiet: list[QuietRow] = field(default_factory=list)
    hours: list[tuple[QuietRow, wall, wall]] = field(default_factory=list)
    contracts: list[ContractRow] = field(default_factory=list)


@lru_cache(maxsize=1_024)
def _shut(quiet: str | None, contracts: str | None) -> Mapping[int, _Shut]:
    """By property what closes it, by the lists as the database tells them."""
    found: dict[int, _Shut] = defaultdict(_Shut)
    for pk, kind, place, plot, first, last, operation, reason, starts, ends in as_data(quiet) or ():
        row = QuietRow(pk, kind, place, plot, _day(first), _day(last), operation, reason)
        if starts is None:
            found[place].quiet.append(row)
        elif ends is not None:
            found[place].hours.append((row, _time(starts), _time(ends)))
    for pk, place, plot, practice, first, last, start, end, operations, source in as_data(contracts) or ():
        closes = tuple(as_data(operations))
        contract = ContractRow(pk, place, plot, practice, _day(first), _day(last), start, end, closes, source)
        found[place].contracts.append(contract)
    return MappingProxyType(dict(found))


_day, _time = date.fromisoformat, wall.fromisoformat


@lru_cache(maxsize=4_096)
def light_of(latitude: float, longitude: float, zone: str, days: tuple[date, ...]) -> Stretches:
    """From sunrise to sunset of each day, in order."""
    found = (daylight(latitude, longitude, day, zone) for day in days)
    return tuple(union(stretch for stretch in found if stretch is not None))
