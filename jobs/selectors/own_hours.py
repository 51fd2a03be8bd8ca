"""When a person can be at a place: their free hours in daylight, outside what closes the land. Four queries for any
number of places and jobs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from datetime import time as wall
from functools import lru_cache
from typing import Any

from django.db.models import DateField

from core.models import FreeException, FreeTime, Holding, Person
from core.selectors.prepared import Given, Prepared
from jobs.graph.data import FAR
from jobs.hours import OneDay, Stretch, Weekly, free_on, intersect, minute_at, subtract, union
from jobs.minutes import ceil_minute
from jobs.selectors.closures import ContractRow, QuietRow, closures
from jobs.selectors.facts import DESK
from plots.daylight import daylight
from plots.models import Contract, QuietKind, QuietTime

Stretches = tuple[Stretch, ...]
TENURE = "plot__property__tenure_ends"

_WEEK = Prepared(
    lambda: FreeTime.objects.filter(person_id=Given("person")).order_by("id").values_list("weekday", "starts", "ends")
)
_EXCEPTIONS = Prepared(
    lambda: (
        FreeException.objects.filter(
            person_id=Given("person"), day__gte=Given("first", DateField()), day__lte=Given("last", DateField())
        )
        .order_by("id")
        .values_list("day", "starts", "ends", "free")
    )
)
_QUIET = Prepared(
    lambda: (
        QuietTime.objects.filter(
            holding_id=Given("holding"),
            first_day__lte=Given("last", DateField()),
            last_day__gte=Given("first", DateField()),
        )
        .exclude(kind=QuietKind.WAY)
        .order_by("id")
        .values_list(
            "id",
            "kind",
            "property_id",
            "plot_id",
            "first_day",
            "last_day",
            "operation",
            "reason",
            "from_time",
            "to_time",
        )
    )
)
_CONTRACTS = Prepared(
    lambda: (
        Contract.objects.filter(holding_id=Given("holding"))
        .exclude(closed_from="")
        .order_by("id")
        .values_list(
            "id",
            "property_id",
            "plot_id",
            "practice",
            "first_day",
            "last_day",
            "closed_from",
            "closed_to",
            "closed_operations",
            "source",
        )
    )
)


class OwnHours:
    """The free hours of one person on some days, by place and kind of work."""

    def __init__(self, holding: Holding, person: Person, days: Sequence[date]) -> None:
        self.zone = holding.zone
        self.days = tuple(days)
        self.first, self.last = min(days), max(days)
        week = _WEEK.rows(person=person.pk)
        exceptions = _EXCEPTIONS.rows(person=person.pk, first=self.first, last=self.last)
        self.known = bool(week or exceptions)
        self.free = _free(self.days, person.zone or holding.zone, tuple(week), tuple(exceptions))
        self.quiet: dict[int, list[QuietRow]] = defaultdict(list)
        self.quiet_hours: dict[int, list[tuple[QuietRow, wall, wall]]] = defaultdict(list)
        self.contracts: dict[int, list[ContractRow]] = defaultdict(list)
        for *columns, starts, ends in _QUIET.rows(holding=holding.pk, first=self.first, last=self.last):
            row = QuietRow(*columns)
            if starts is None:
                self.quiet[row.property].append(row)
            elif ends is not None:
                self.quiet_hours[row.property].append((row, starts, ends))
        for pk, place, plot, practice, first, last, start, end, operations, source in _CONTRACTS.rows(
            holding=holding.pk
        ):
            contract = ContractRow(pk, place, plot, practice, first, last, start, end, tuple(operations), source)
            self.contracts[place].append(contract)
        self._light: dict[int, Stretches] = {}

    def at(self, row: Mapping[str, Any], minute: int) -> list[Stretch]:
        """The stretches in which the job of a row of `answer_rows` can be worked on, sorted: from a minute on, and from
        its earliest start and the ends of its waits."""
        stretches = self.free if row["operation"] in DESK else self._outdoors(row)
        start = row["reckoning__earliest_start"]
        begin = max(minute, ceil_minute(start) if start else FAR)
        for coded in row["reckoning__holds"]:
            begin = max(begin, coded["clears"].get("at", begin))
        return [(low if low > begin else begin, high) for low, high in stretches if high > begin]

    def _outdoors(self, row: Mapping[str, Any]) -> Sequence[Stretch]:
        place, zone, tenure_ends = row["plot__property_id"], row["plot__property__zone"], row[TENURE]
        found = self._light.get(place)
        if found is None:
            latitude, longitude = row["plot__property__latitude"], row["plot__property__longitude"]
            light = light_of(latitude, longitude, zone or self.zone, self.days)
            found = self._light[place] = tuple(intersect(self.free, light))
        ends = tenure_ends is not None and tenure_ends < self.last
        if not (ends or place in self.quiet or place in self.quiet_hours or place in self.contracts):
            return found
        return self._kept_open(row, found, zone or self.zone)

    def _kept_open(self, row: Mapping[str, Any], stretches: Sequence[Stretch], zone: str) -> list[Stretch]:
        """The stretches less what closes the job's property or plot to its work."""
        place = row["plot__property_id"]
        left = list(stretches)
        for quiet, starts, ends in self.quiet_hours.get(place, ()):
            if quiet.plot in (None, row["plot_id"]) and quiet.operation in ("", row["operation"]):
                left = subtract(left, closed_hours(quiet, starts, ends, self.days, zone))
        closed = closures(
            operation=row["operation"],
            plot=row["plot_id"],
            zone=zone,
            first=self.first,
            last=self.last,
            quiet=self.quiet.get(place, ()),
            contracts=self.contracts.get(place, ()),
            tenure_ends=row[TENURE],
        )
        return subtract(left, [(closure.first, closure.last) for closure in closed])


def closed_hours(quiet: QuietRow, starts: wall, ends: wall, days: Sequence[date], zone: str) -> list[Stretch]:
    """What quiet hours close on some days: the hours themselves, or all of those days but them."""
    here = [day for day in days if quiet.first_day <= day <= quiet.last_day]
    hours = [(minute_at(zone, day, starts), minute_at(zone, day, ends)) for day in here]
    if quiet.kind != QuietKind.ONLY:
        return hours
    whole = [(minute_at(zone, d, wall()), minute_at(zone, d + timedelta(days=1), wall())) for d in here]
    return subtract(union(whole), hours)


@lru_cache(maxsize=1_024)
def _free(
    days: tuple[date, ...], zone: str, week: tuple[tuple[Any, ...], ...], exceptions: tuple[tuple[Any, ...], ...]
) -> Stretches:
    usual, other = [Weekly(*row) for row in week], [OneDay(*row) for row in exceptions]
    return tuple(union(stretch for day in days for stretch in free_on(day, zone, usual, other)))


@lru_cache(maxsize=4_096)
def light_of(latitude: float, longitude: float, zone: str, days: tuple[date, ...]) -> Stretches:
    """From sunrise to sunset of each day, in order."""
    found = (daylight(latitude, longitude, day, zone) for day in days)
    return tuple(union(stretch for stretch in found if stretch is not None))
