"""Permits, crews, agencies, lone work, signs and handlers: what is not typed is no leave."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from jobs.facts import Bound
from jobs.law import people
from jobs.law.people import HandlerFact, SheetFact
from jobs.minutes import day_start

PERMIT = SheetFact(
    permit_needed=True, permit_number="B-4", permit_issued_on=date(2027, 3, 1), permit_expires_on=date(2027, 4, 30),
    permit_most_days=30,
)  # fmt: skip


def start(day: date) -> int:
    return day_start("America/Chicago", day)


def held(bounds: list[Bound], day: date) -> bool:
    return any(bound.first <= start(day) < bound.last for bound in bounds)


@pytest.mark.parametrize(
    ("day", "stops"),
    [
        (date(2027, 2, 28), True),
        (date(2027, 3, 1), False),
        (date(2027, 3, 31), False),
        (date(2027, 4, 1), True),
    ],
)
def test_a_permit_ends_with_its_own_days_or_those_of_the_state(day: date, stops: bool) -> None:
    """Nebraska 81-520.05: not valid over 30 days. Issued on 1 March it ends with 31 March, whatever it says."""
    assert held(list(people.permit(PERMIT, start)), day) is stops


def test_without_a_rule_of_the_state_the_permits_own_last_day_counts() -> None:
    bounds = list(people.permit(replace(PERMIT, permit_most_days=None), start))
    assert not held(bounds, date(2027, 4, 30))
    assert held(bounds, date(2027, 5, 1))


def test_nobody_asked_or_something_lacks_is_a_stop() -> None:
    (asked,) = people.permit(SheetFact(), start)
    assert asked.inputs["needed"] is None
    (lacking,) = people.permit(replace(PERMIT, permit_number="", permit_expires_on=None), start)
    assert lacking.inputs["lacks"] == ["number", "last day"]
    assert list(people.permit(SheetFact(permit_needed=False), start)) == []


PLAN = SheetFact(boss=1, least_crew=3)


@pytest.mark.parametrize(
    ("sheet", "confirmed", "stops"),
    [
        (PLAN, [1, 2, 3], False),
        (PLAN, [1, 2], True),
        (PLAN, [2, 3, 4], True),
        (replace(PLAN, boss=None), [1, 2, 3], True),
        (replace(PLAN, least_crew=None), [1, 2, 3], True),
    ],
    ids=["enough", "one cancelled", "without the boss", "no boss named", "no least crew known"],
)
def test_a_burn_needs_its_crew_and_a_named_boss_among_them(sheet: SheetFact, confirmed: list[int], stops: bool) -> None:
    assert bool(list(people.crew(sheet, None, confirmed))) is stops


def test_the_steps_own_crew_counts_where_the_sheet_names_none() -> None:
    assert list(people.crew(replace(PLAN, least_crew=None), 2, [1, 2])) == []


def test_a_firebreak_that_nobody_measured_is_not_wide_enough() -> None:
    measured = SheetFact(fuel_height_ft=3.0, break_width_ft=6.0, break_least_ft=4.0)
    assert list(people.firebreak(measured)) == []
    for lacking in ("fuel_height_ft", "break_width_ft", "break_least_ft"):
        assert list(people.firebreak(replace(measured, **{lacking: None}))), lacking
    assert list(people.firebreak(replace(measured, break_width_ft=5.9)))


FEED = SheetFact(agency_checked_on=date(2027, 9, 1), agency_county="Pike")
SEASON = (date(2027, 8, 15), date(2028, 2, 15))


def test_feeding_needs_the_agencys_word_of_this_season() -> None:
    bounds = list(people.agency(FEED, SEASON, start))
    days = (date(2027, 8, 31), date(2027, 9, 1), date(2028, 2, 15), date(2028, 2, 16))
    assert [held(bounds, day) for day in days] == [True, False, False, True]
    assert held(
        list(people.agency(replace(FEED, agency_checked_on=date(2027, 8, 14)), SEASON, start)), date(2027, 9, 2)
    )
    assert held(list(people.agency(replace(FEED, agency_county=""), SEASON, start)), date(2027, 9, 2))


def test_without_a_season_the_word_ends_with_its_year() -> None:
    bounds = list(people.agency(FEED, None, start))
    assert not held(bounds, date(2027, 12, 31))
    assert held(bounds, date(2028, 1, 1))


@pytest.mark.parametrize("hazard", ["fire", "pesticide", "machine"])
def test_one_alone_agrees_a_check_in_with_somebody_named(hazard: str) -> None:
    agreed = SheetFact(check_in_minutes=45, contact="Dispatch")
    assert list(people.lone_work(SheetFact(), [hazard], [7]))
    assert list(people.lone_work(replace(agreed, contact=""), [hazard], [7]))
    assert list(people.lone_work(agreed, [hazard], [7])) == []
    assert list(people.lone_work(SheetFact(), [hazard], [7], (60, "Dispatch"))) == []
    assert list(people.lone_work(SheetFact(), [hazard], [7], (60, "")))
    assert list(people.lone_work(SheetFact(), [hazard], [7, 8])) == []
    assert list(people.lone_work(SheetFact(), [], [7])) == []


@pytest.mark.parametrize(
    ("hours", "sheet", "stops"),
    [
        (48.0, SheetFact(), False),
        (48.5, SheetFact(), True),
        (48.5, SheetFact(signs=False), False),
        (12.0, SheetFact(signs=True), True),
        (None, SheetFact(), False),
    ],
)
def test_signs_go_up_where_entry_is_closed_for_over_two_days(
    hours: float | None, sheet: SheetFact, stops: bool
) -> None:
    """The 48 hours are from memory; a sheet says otherwise. An entry time that nobody typed is asked for by its own."""
    assert bool(list(people.signs(sheet, hours, posted=False))) is stops
    assert list(people.signs(sheet, hours, posted=True)) == []


def test_a_handler_is_of_age_and_trained_unless_of_the_family() -> None:
    assert people.handler_lacks(HandlerFact(True, True, False)) == []
    assert people.handler_lacks(HandlerFact(False, False, True)) == []
    assert len(people.handler_lacks(HandlerFact(False, False, False))) == 2
