"""What can be done next, where, by whom, with what, in which hours: the one list behind pages, API and commands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from operator import itemgetter
from typing import Any

from django.db.models import DateTimeField, F, QuerySet

from core.models import Holding, Person, Role
from core.selectors.prepared import Given, Prepared, as_data
from jobs.graph.data import FAR
from jobs.hours import Stretch, intersect
from jobs.minutes import floor_minute, instant, local_day
from jobs.models import Job, JobState, Reckoning
from jobs.selectors.answers import (
    SHOWN,
    TAKEN,
    answer_rows,
    answers,
    bring_of,
    minutes_left,
    taken,
    weather_decides,
    week_ahead,
)
from jobs.selectors.own_hours import OwnHours
from jobs.selectors.progress import ASIDE
from jobs.selectors.visible import own_jobs, visible_jobs
from jobs.selectors.window_words import beside, ends_with, is_known, limits_of_row, stretches_of
from jobs.selectors.windows import needs_windows
from plots.models import Machine

HOURS_ASKED = "Give hours above 0 and at most 24."
"""What every way to ask says of other hours."""
MOST_LISTED = 200
"""So many jobs one answer of the API lists; the rest is counted and on further pages."""
SHORTEST_MIN = 15
"""Free stretches shorter than this are not shown."""
IN_HOURS, OPEN, SOON = range(3)
NONE_FIT = "None of your free hours in daylight lie in hours that are fit."
NOT_OFFERED = "So no hours are offered: look at sky, ground and label yourself before you go."
_COLUMNS = (*SHOWN, *TAKEN)
_HOLDS = SHOWN.index("reckoning__holds")


@dataclass(frozen=True, slots=True)
class Ask:
    """What narrows a list: a property, the machines at hand, so many hours, one day, so many days ahead."""

    property: int | None = None
    machines: frozenset[str] | None = None
    hours: float | None = None
    on: date | None = None
    days: int = 7


@dataclass(frozen=True, slots=True)
class NextList:
    """One page of a person's next jobs, and how many there are in all."""

    jobs: list[dict[str, Any]]
    count: int


def next_jobs(*, holding: Holding, person: Person, now: datetime, ask: Ask | None = None) -> list[dict[str, Any]]:
    """All of `next_list` on one page."""
    return next_list(holding=holding, person=person, now=now, ask=ask, most=None).jobs


def next_list(
    *,
    holding: Holding,
    person: Person,
    now: datetime,
    ask: Ask | None = None,
    page: int = 1,
    most: int | None = MOST_LISTED,
) -> NextList:
    """A person's next jobs: under way and open now, then those that open within seven days; `most` on a page, the last
    page where there are fewer. Only those of the page are made into answers.

    Order: in hours now, under way or open, opens soon; then latest start, slack, earliest start, id. Each row is an
    answer with `hours`: the person's free stretches in daylight at that place, or none and why. Where the weather
    decides, only what lies in a window of the job, each with what ends it; where no window is known for want of a
    forecast, `fit_known` is false, the free hours are no offer, and nobody is in hours now.
    """
    found = next_page(holding=holding, person=person, now=now, ask=ask, page=page, most=most)
    told = answers(holding, [one.row for one in found.shown], now)
    for answer, one in zip(told, found.shown, strict=True):
        answer |= found.own_part(one, answer["window"])
    return NextList(told, found.count)


@dataclass(frozen=True, slots=True)
class Shown:
    """A job of a page: its row, the person's stretches for it, whether they lie in known hours, and go on now."""

    row: Row
    stretches: list[Stretch]
    fit: bool
    in_hours: bool


@dataclass(frozen=True, slots=True)
class NextPage:
    """The rows of one page of a person's next jobs before they are told, and how many there are in all."""

    shown: list[Shown]
    count: int
    zone: str
    minute: int
    person: str
    known: bool

    def own_part(self, one: Shown, window: Mapping[str, Any] | None) -> dict[str, Any]:
        """What of an answer is the person's own: their hours for it, and a note."""
        row = one.row
        zone = row["plot__property__zone"] or self.zone
        ends = _ends(row)
        hours = [
            {"from": instant(a), "to": instant(b), "zone": zone, "ends": ends.get(b, "")}
            for a, b in _shown(one.stretches)
        ]
        return {
            "hours": hours,
            "hours_known": self.known,
            "fit_known": one.fit,
            "in_hours_now": one.in_hours,
            "hours_note": self._note(one, hours, window, beside(row, zone, self.minute) if window else ""),
        }

    def _note(
        self, one: Shown, hours: list[dict[str, Any]], window: Mapping[str, Any] | None, beside_hours: str
    ) -> str:
        parts = []
        latest = one.row["reckoning__latest_start"]
        if not self.known:
            parts.append(f"No free hours of {self.person} are listed, so none are shown.")
        elif not hours:
            outside = one.fit and window is not None and window["from"] is not None
            parts.append(NONE_FIT if outside else "No free hours in daylight in these days." if not window else "")
        elif latest is not None and hours[0]["from"] > latest:
            parts.append("Your first free hours come after its last start.")
        if window is not None:
            offered = hours and window["known"]
            parts.append(beside_hours if offered else window["sentence"])
            if not window["known"]:
                parts.append(NOT_OFFERED)
        elif weather_decides(one.row["operation"]):
            parts.append(f"Its hours are not reckoned yet. {NOT_OFFERED}")
        return " ".join(part for part in parts if part)


def next_page(
    *, holding: Holding, person: Person, now: datetime, ask: Ask | None, page: int, most: int | None
) -> NextPage:
    """What `next_list` lists, as rows."""
    ask = ask or Ask()
    minute = floor_minute(now)
    if person.role == Role.VIEWER:
        return NextPage([], 0, holding.zone, minute, person.name, False)
    rows = _fitting(holding, _candidates(holding, person, now, ask), ask)
    today = local_day(holding.zone, minute)
    days = [ask.on] if ask.on else [today + timedelta(days=offset) for offset in range(max(1, min(ask.days, 31)))]
    own = OwnHours(holding, person, days)
    found = []
    for row in rows:
        stretches = own.at(row, minute)
        fit = _is_fit(row)
        if fit and row["reckoning__windows"] is not None:
            stretches = intersect(stretches, stretches_of(row["reckoning__windows"]))
        if ask.on is None or not own.known or _shown(stretches):
            order = _order(row, stretches if fit else [], minute)
            found.append((order, Shown(row, stretches, fit, order[0] == IN_HOURS)))
    found.sort(key=itemgetter(0))
    first = 0 if most is None else (min(page, max(1, -(-len(found) // most))) - 1) * most
    shown = found[first : None if most is None else first + most]
    return NextPage([one for _, one in shown], len(found), holding.zone, minute, person.name, own.known)


def _next(role: str, at_property: bool) -> QuerySet[Any, Any]:
    """The holding is that of the reckonings, in a query of their own: a plan that began with jobs would look at all.
    Two looks, each by an index of its own, rather than an OR, which goes by none."""
    all_of = Reckoning.objects.filter(holding_id=Given("holding"))
    now = all_of.filter(state__in=(JobState.OPEN, JobState.UNDER_WAY)).values("job_id")
    soon = all_of.filter(state=JobState.HELD, earliest_start__lte=Given("until", DateTimeField())).values("job_id")
    jobs = own_jobs(Job.objects.filter(pk__in=now.union(soon, all=True)), role, Given("person"))
    if at_property:
        jobs = jobs.filter(plot__property_id=Given("property"))
    return jobs.order_by("id").values_list(*SHOWN, *taken())


_NEXT = Prepared(_next)


class Row(dict[str, Any]):
    """The columns of a next job by name, to be read only: a row that reads the same is the same one, by identity."""

    __slots__ = ()
    __hash__ = object.__hash__  # type: ignore[assignment]
    __eq__ = object.__eq__


@lru_cache(maxsize=2_048)
def _row(raw: tuple[Any, ...], role: str, at_property: bool) -> Row:
    """A row as the driver gives it, read; what is told of it changes only with it."""
    return Row(zip(_COLUMNS, _NEXT.read(raw, role, at_property), strict=True))


def forget() -> None:
    """Keep no row, as in a process that begins."""
    _row.cache_clear()


def _candidates(holding: Holding, person: Person, now: datetime, ask: Ask) -> list[Row]:
    """Rows of the jobs under way, open, or held by nothing but waits that end within seven days."""
    shape = str(person.role), ask.property is not None
    until = week_ahead(now)
    minute = floor_minute(until)
    rows = _NEXT.raw(*shape, holding=holding.pk, person=person.pk, until=until, property=ask.property)
    return [_row(row, *shape) for row in rows if row[_HOLDS] == "[]" or _clears_by_itself(as_data(row[_HOLDS]), minute)]


def _clears_by_itself(holds: Iterable[Mapping[str, Any]], until: int) -> bool:
    """Held by nothing, or by waits alone that end by a minute: nothing else has to happen first."""
    return all(coded["clears"]["how"] == "at" and coded["clears"].get("at", FAR) <= until for coded in holds)


def _fitting(holding: Holding, rows: list[Row], ask: Ask) -> list[Row]:
    """The rows of what fits into the hours asked, and needs no machine but those at hand, by name or by kind: who has
    one of the holding's has one of its kind."""
    if ask.hours is not None:
        rows = [row for row in rows if minutes_left(row) <= ask.hours * 60]
    if ask.machines is None:
        return rows
    kinds = Machine.objects.filter(holding=holding, name__in=ask.machines).values_list("kind", flat=True)
    at_hand = frozenset(map(_plain, [*ask.machines, *kinds]))
    needs = bring_of(holding.pk, rows)
    return [row for row in rows if all(_plain(name) in at_hand for name in needs[row["id"]]["machines"])]


def _plain(name: str) -> str:
    return name.replace("_", " ").lower()


def _is_fit(row: Mapping[str, Any]) -> bool:
    """Whether a stretch of the row can be offered: the weather has no say in it, or its windows are known."""
    if not needs_windows(row["operation"]):
        return True
    return row["reckoning__windows"] is not None and is_known(row["reckoning__windows"])


def _ends(row: Mapping[str, Any]) -> dict[int, str]:
    """By the minute at which a window of the row ends: what ends it."""
    if row["reckoning__windows"] is None:
        return {}
    limits = limits_of_row(row)
    return {window["to"]: ends_with(window, limits) for window in row["reckoning__windows"].get("found", ())}


def _shown(stretches: Sequence[Stretch]) -> list[Stretch]:
    return [(a, b) for a, b in stretches if b - a >= SHORTEST_MIN]


def _order(row: Mapping[str, Any], stretches: Sequence[Stretch], minute: int) -> tuple[Any, ...]:
    """By what a list is sorted; first whether it is open in the person's hours now, open, or opens soon."""
    if row["reckoning__state"] == JobState.HELD:
        rank = SOON
    else:
        rank = IN_HOURS if stretches and stretches[0][0] <= minute else OPEN
    late, slack, early = row["reckoning__latest_start"], row["reckoning__slack_min"], row["reckoning__earliest_start"]
    return (
        rank,
        floor_minute(late) if late else FAR,
        slack // 1440 if slack is not None else FAR,
        floor_minute(early) if early else FAR,
        row["id"],
    )


def held_jobs(*, holding: Holding, person: Person, now: datetime, limit: int = 200) -> list[dict[str, Any]]:
    """What else waits, held, begun and stopped, or too late, with what holds each, nearest deadline first.

    A way that is too late while another way to the same end can still be met is left out."""
    until = floor_minute(week_ahead(now))
    states = (JobState.HELD, JobState.LAPSED, JobState.UNDER_WAY)
    jobs = visible_jobs(person).filter(reckoning__state__in=states)
    jobs = jobs.exclude(ASIDE)
    order = (F("reckoning__latest_start").asc(nulls_last=True), "id")
    chosen: list[int] = []
    for pk, state, holds in (
        jobs.order_by(*order).values_list("id", "reckoning__state", "reckoning__holds").iterator(chunk_size=limit)
    ):
        if state != JobState.UNDER_WAY or not _clears_by_itself(holds, until):
            chosen.append(pk)
        if len(chosen) == limit:
            break
    rows = {row["id"]: row for row in answer_rows(Job.objects.filter(holding=holding, pk__in=chosen))}
    return answers(holding, [rows[pk] for pk in chosen if pk in rows], now)
