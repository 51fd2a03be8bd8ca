"""Contracts: nesting days inclusive, room for food plots, the year's share, why one mows, widths of firebreaks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from jobs.law import contract
from jobs.law.contract import ContractTerms, food_plot_room
from jobs.minutes import floor_minute
from jobs.selectors.closures import ContractRow, closures

TERMS = ContractTerms(4, "CP", 0, 10**9)
CP12 = replace(TERMS, share=0.1, cap_acres=5.0)
ILLINOIS = ContractRow(4, 1, None, "cover", date(2020, 1, 1), date(2032, 12, 31), "04-15", "08-01", (), "FSA Illinois")


@pytest.mark.parametrize("operation", ["mow", "burn", "till", "spray"])
@pytest.mark.parametrize(
    ("when", "closed"),
    [
        ("2027-04-14 23:59", False),
        ("2027-04-15 00:00", True),
        ("2027-08-01 23:59", True),
        ("2027-08-02 00:00", False),
    ],
)
@pytest.mark.parametrize("told_in", ["UTC", "America/Chicago"])
def test_nesting_days_of_illinois_are_closed_with_both_ends(
    operation: str, when: str, closed: bool, told_in: str
) -> None:
    """FSA Illinois 2017 and 2023: 15 April to 1 August; the days are those of the property, however now is told."""
    local = datetime.fromisoformat(when).replace(tzinfo=ZoneInfo("America/Chicago"))
    now = floor_minute(local.astimezone(ZoneInfo(told_in)))
    found = closures(
        operation=operation, plot=1, zone="America/Chicago", first=date(2027, 1, 1), last=date(2027, 12, 31),
        quiet=(), contracts=[ILLINOIS], tenure_ends=None,
    )  # fmt: skip
    assert any(closure.first <= now < closure.last for closure in found) is closed
    assert {closure.source for closure in found} == {"FSA Illinois"}


@pytest.mark.parametrize(
    ("field", "acres", "held"),
    [(40.0, 4.0, False), (40.0, 4.01, True), (80.0, 5.0, False), (80.0, 5.01, True), (None, 1.0, True)],
)
def test_food_plots_have_the_lesser_of_share_and_cap(field: float | None, acres: float, held: bool) -> None:
    """NRCS New Mexico, CP12: a tenth of the field or 5 acres. A field of unknown size has no room that is known."""
    found = list(contract.cap("plant", replace(CP12, field_acres=field), [acres - 1.0, 1.0]))
    assert bool(found) is held


def test_a_food_plot_of_unknown_acres_is_asked_about() -> None:
    assert list(contract.cap("sow", replace(CP12, field_acres=40.0), [1.0, None]))


def test_the_cap_alone_needs_no_field() -> None:
    assert food_plot_room(replace(TERMS, cap_acres=3.0)) == 3.0
    assert list(contract.cap("mow", replace(TERMS, cap_acres=3.0), [9.0])) == [], "mowing makes no food plot"


MINE = (2, "mow", 10.0)
THIRD = replace(TERMS, disturb_share=1 / 3, acres=90.0)


def shared(terms: ContractTerms, *others: tuple[int, str, float | None]) -> list[object]:
    return list(contract.share(terms, others, MINE, first=0, last=10**8, year=2027))


def test_a_third_of_the_contract_with_firebreaks_counted() -> None:
    """Missouri 2019, Indiana 2010: 30 of 90 acres, firebreaks within them."""
    assert shared(THIRD, (1, "burn", 20.0)) == []
    assert shared(THIRD, (1, "burn", 20.0), (1, "firebreak", 0.1))


def test_the_same_acres_twice_are_disturbed_once() -> None:
    assert shared(THIRD, (1, "mow", 20.0), (1, "burn", 18.0)) == []


def test_a_contract_of_at_most_fifty_acres_may_be_free_of_it() -> None:
    small = replace(THIRD, acres=50.0, exempt_acres=50.0)
    assert shared(small, (1, "burn", 40.0)) == []
    assert shared(replace(small, acres=50.1), (1, "burn", 40.0))
    assert shared(replace(small, exempt_acres=None), (1, "burn", 40.0))


def test_unknown_acres_are_no_leave() -> None:
    assert shared(replace(THIRD, acres=None))
    assert shared(THIRD, (1, "burn", None))


@pytest.mark.parametrize(
    ("said", "held"), [("cosmetic", True), ("", True), ("weeds", False), ("stand", False), ("firebreak", False)]
)
def test_nobody_mows_for_looks_at_any_time_of_the_year(said: str, held: bool) -> None:
    """FSA Illinois 2017, Ohio 2021; a purpose that nobody said is asked for."""
    found = list(contract.purpose("mow", TERMS, said))
    assert bool(found) is held
    assert all((bound.first, bound.last) == (TERMS.first, TERMS.last) for bound in found)
    assert list(contract.purpose("burn", TERMS, "cosmetic")) == []


@pytest.mark.parametrize(("fuel", "least"), [(3.0, 6.0), (1.0, 4.0), (2.0, 4.0), (2.1, 4.2)])
def test_a_firebreak_is_twice_as_wide_as_the_fuel_is_high_and_no_less_than_the_states_own(
    fuel: float, least: float
) -> None:
    """NRCS Missouri 394 (2020): twice the height, at least 4 ft."""
    assert contract.firebreak_least_ft(fuel, 4.0) == pytest.approx(least)
