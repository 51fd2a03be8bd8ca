"""What fire, feed, signs and lone work ask of a job's sheet and of the people on it.

Sources: 40 CFR 170; Nebraska 81-520.05 (permit); go/no-go forms of Texas and Minnesota (crew, burn boss); NRCS Missouri
394 (2020). The permit's days, the crew and the widths are those typed, never ones of the program."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from jobs.facts import Bound
from jobs.graph.data import FAR, NEG
from jobs.law.contract import firebreak_least_ft

SIGNS_OVER_HOURS = 48.0
"""Above so many hours of entry time signs have to stand (from memory; a sheet may say otherwise)."""

ALONE = frozenset({"fire", "pesticide", "machine"})
"""Hazards with which nobody works alone without a check-in: saw, fire, spray, tractor."""


@dataclass(frozen=True, slots=True)
class SheetFact:
    """The typed answers of one job; None or "" is not known."""

    purpose: str = ""
    permit_needed: bool | None = None
    permit_number: str = ""
    permit_issued_on: date | None = None
    permit_expires_on: date | None = None
    permit_most_days: int | None = None
    boss: int | None = None
    least_crew: int | None = None
    fuel_height_ft: float | None = None
    break_width_ft: float | None = None
    break_least_ft: float | None = None
    signs: bool | None = None
    agency_checked_on: date | None = None
    agency_county: str = ""
    check_in_minutes: int | None = None
    contact: str = ""
    spray_method: str = ""
    droplet_microns: float | None = None
    nozzle_in: float | None = None


Start = Callable[[date], int]
"""The first minute of a civil day on the plot."""


def permit_last_day(sheet: SheetFact) -> date | None:
    """The last day of a permit: its own, but no later than the state lets one last after its issue."""
    if sheet.permit_expires_on is None or sheet.permit_issued_on is None or sheet.permit_most_days is None:
        return sheet.permit_expires_on
    return min(sheet.permit_expires_on, sheet.permit_issued_on + timedelta(days=sheet.permit_most_days))


def permit(sheet: SheetFact, start: Start) -> Iterator[Bound]:
    """A burn needs to know whether a permit is needed; where it is, one with number and days, and one of these days."""
    if sheet.permit_needed is False:
        return
    rule, source = "permit", "nebraska-81-520-05"
    told = {
        "number": sheet.permit_number,
        "issued": sheet.permit_issued_on,
        "last day": sheet.permit_expires_on,
    }
    lacks = [name for name, value in told.items() if not value] if sheet.permit_needed else []
    if sheet.permit_needed is None or lacks:
        inputs = {"needed": sheet.permit_needed, "lacks": lacks}
        yield Bound("permit", rule, source=source, who="manager", inputs=inputs)
        return
    last = permit_last_day(sheet)
    if last is None or sheet.permit_issued_on is None:  # said above
        return
    begins, ended = start(sheet.permit_issued_on), start(last + timedelta(days=1))
    known: dict[str, Any] = {"needed": True, "lacks": [], "number": sheet.permit_number, "ended": ended}
    yield Bound("permit", rule, NEG, begins, source, inputs=known)
    yield Bound("permit", rule, ended, FAR, source, who="manager", inputs=known)


def crew(sheet: SheetFact, planned: int | None, confirmed: Collection[int]) -> Iterator[Bound]:
    """The burn plan's crew has confirmed, a burn boss is named and among them. `planned` is what the step knows."""
    least = sheet.least_crew if sheet.least_crew is not None else planned
    people = set(confirmed)
    if least is None or len(people) < least or sheet.boss is None or sheet.boss not in people:
        yield Bound(
            "crew", "crew", source="go-no-go-lists", who="manager",
            inputs={
                "least": least, "crew": len(people), "boss": sheet.boss is not None,
                "boss_comes": sheet.boss in people,
            },
        )  # fmt: skip


def firebreak(sheet: SheetFact) -> Iterator[Bound]:
    """The firebreak is measured, and wide enough for the fuel beside it. What is not measured is not wide enough."""
    fuel, width, least = sheet.fuel_height_ft, sheet.break_width_ft, sheet.break_least_ft
    needed = None if fuel is None or least is None else firebreak_least_ft(fuel, least)
    if needed is None or width is None or width < needed:
        yield Bound(
            "firebreak", "firebreak", source="missouri-394-2020", who="manager",
            inputs={"fuel_ft": fuel, "width_ft": width, "least_ft": needed},
        )  # fmt: skip


def agency(sheet: SheetFact, season: tuple[date, date] | None, start: Start) -> Iterator[Bound]:
    """Feed needs this season's word of the state wildlife agency; a check of another season is none.

    Without a season of its own a job's check holds for the calendar year in which it was made."""
    checked = sheet.agency_checked_on
    inputs = {"checked_on": None if checked is None else checked.isoformat(), "county": sheet.agency_county}
    source = "esf-feeding"
    if checked is None or not sheet.agency_county or (season is not None and not season[0] <= checked <= season[1]):
        yield Bound("agency", "agency", source=source, who="manager", inputs=inputs)
        return
    last = season[1] if season is not None else date(checked.year, 12, 31)
    yield Bound("agency", "agency", NEG, start(checked), source, inputs=inputs)
    yield Bound("agency", "agency", start(last + timedelta(days=1)), FAR, source, who="manager", inputs=inputs)


def lone_work(
    sheet: SheetFact, hazards: Collection[str], going: Collection[int], usual: tuple[int | None, str] = (None, "")
) -> Iterator[Bound]:
    """One person alone with fire, spray or a machine has a check-in time and somebody named who waits for it, on the
    job's sheet or as `usual` in the holding."""
    agreed = (sheet.check_in_minutes or usual[0]) and (sheet.contact or usual[1])
    if len(set(going)) == 1 and ALONE & set(hazards) and not agreed:
        yield Bound(
            "lone_work", "lone_work", source="from-memory", who="manager",
            inputs={"hazards": sorted(ALONE & set(hazards)), "check_in": sheet.check_in_minutes},
        )  # fmt: skip


def signs(sheet: SheetFact, entry_hours: float | None, posted: bool) -> Iterator[Bound]:
    """A spray that closes the plot for over 48 hours has jobs that put signs up before it and take them down after."""
    if entry_hours is not None and needs_signs(sheet, entry_hours) and not posted:
        yield Bound("signs", "signs", source="40-cfr-170", who="manager", inputs={"hours": entry_hours})


def needs_signs(sheet: SheetFact, entry_hours: float) -> bool:
    return sheet.signs if sheet.signs is not None else entry_hours > SIGNS_OVER_HOURS


@dataclass(frozen=True, slots=True)
class HandlerFact:
    """What is known of somebody who is to spray, on the day. `family`: of the owner's immediate family, as typed."""

    of_age: bool
    trained: bool
    family: bool


OF_AGE, TRAINED, FAMILY, APPLICATOR = "18 years", "handler training", "owner's family", "pesticide applicator"
"""Names of the skills whose certificates tell it. A valid applicator's stands for age and training (from memory)."""


def handler_of(skills: Collection[str]) -> HandlerFact:
    """What valid certificates say of somebody; `skills` are their names in small letters."""
    applicator = APPLICATOR in skills
    return HandlerFact(OF_AGE in skills or applicator, TRAINED in skills or applicator, FAMILY in skills)


def handler_lacks(who: HandlerFact) -> list[str]:
    """What keeps a person from handling pesticide: 18 years and this year's training, unless of the owner's family."""
    if who.family:
        return []
    found = [] if who.of_age else ["proof of 18 years"]
    return found if who.trained else [*found, "handler training of the last year"]
