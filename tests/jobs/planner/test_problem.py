"""A problem refuses what cannot be, in words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from jobs.planner.problem import (
    AIM,
    Certificate,
    Day,
    Link,
    Machine,
    Person,
    Quiet,
    Shift,
    Way,
    Window,
    Wish,
    WishKind,
)
from tests.jobs.planner.weekend import at, day, job, person, problem, shift


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: job("burn", kind="burn"), "never one person on a burn"),
        (lambda: job("mow", kind="mow"), "needs a check-in time"),
        (lambda: job("saw", kind="saw"), "needs a check-in time"),
        (lambda: job("spray", kind="spray", check_in=True), "type the entry time of the label"),
        (lambda: job("salt", rides_along=True), "nothing is lost without it"),
        (lambda: job("look", share_lost=1.01), "share of the season from 0 to 1"),
        (lambda: job("look", acres=float("nan")), "acres lie at or above 0"),
        (lambda: job("look", ways=()), "no way of doing it"),
        (lambda: job("look", exclusion_ft=-1.0), "at or above 0"),
        (lambda: Way(0, 60), "one person and one minute"),
        (lambda: Way(1, 60, ("mower", "mower")), "each machine once"),
        (lambda: Window(5, 5), "ends after it begins"),
        (lambda: Shift("s", "ann", "sat", 9, 9, "home", "home"), "ends after it begins"),
        (lambda: Day("sat", 0, 1440, 500, 400), "the light lies inside the day"),
        (lambda: Link("a", "a"), "does not wait for itself"),
        (lambda: Link("a", "b", 60, 30), "longest wait lies below the shortest"),
        (lambda: Machine("m", "Mower", "farm", 0, 1, carries=frozenset({"2,4-D"})), "has no tank"),
        (lambda: Person("ann", "Ann", most_days=-1), "no fewer than 0 days"),
        (lambda: Wish("w", WishKind.MUST), "needs a job"),
        (lambda: Wish("w", WishKind.KEEP_DAY, "look"), "needs a day"),
        (lambda: problem((job("look"), job("look"))), "look stands twice"),
        (lambda: problem((job("look", place="mars"),)), "no place 'mars'"),
        (lambda: problem((job("look", ways=(Way(1, 60, ("mower",)),)),)), "no machine 'mower'"),
        (lambda: problem((job("look", materials=(("seed", 1.0),)),)), "no material 'seed'"),
        (lambda: problem((), links=(Link("a", "b"),)), "no job 'a'"),
        (lambda: problem((), shifts=(shift("cy"),)), "no person 'cy'"),
        (lambda: problem((), quiet=(Quiet("mars", 0, 1),)), "no place 'mars'"),
        (lambda: problem((), wishes=(Wish("w", WishKind.MUST_NOT, person="cy"),)), "no person 'cy'"),
        (lambda: problem((), aim=(AIM[0], AIM[0])), "kept stands twice"),
        (lambda: problem((), shifts=(shift("ann"), Shift("b", "ann", "sat", at("17:59"), at("19:00"), "home", "home"))),
         "shifts that overlap"),
        (lambda: problem((), shifts=(Shift("late", "ann", "sat", at("23:00"), at("24:01"), "home", "home"),)),
         "lies inside its day"),
        (lambda: problem((job("mow", ways=(Way(2, 60, ("mower",)),)),), machines=(
            Machine("mower", "Mower", "farm", 0, 1, frozenset({"tractor"})), Machine("tractor", "T", "farm", 0, 1))),
         "needs one of tractor"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words(make: Callable[[], Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        make()


def test_a_stake_is_the_acres_times_the_share_that_is_lost() -> None:
    assert job("look", acres=2.5, share_lost=0.3).stake == 750


def test_rows_are_kept_in_the_order_of_ids() -> None:
    case = problem((job("b"), job("a")), people=(person("bo"), person("ann")))
    assert [one.id for one in case.jobs] == ["a", "b"]
    assert [one.id for one in case.people] == ["ann", "bo"]


def test_a_certificate_holds_for_whole_days_only() -> None:
    one = Person("ann", "Ann", (Certificate("saw", at("0:00"), at("24:00")),))
    assert one.holds("saw", day(0))
    assert not one.holds("saw", day(1))
    assert not one.holds("boss", day(0))


def test_an_unknown_distance_is_none_and_a_known_one_goes_both_ways() -> None:
    case = problem((), feet={("a", "b"): 30.0})
    assert (case.near("a", "b"), case.near("b", "a")) == (30.0, 30.0)
    assert (case.near("a", "c"), case.near("a", "a")) == (0.0, 0.0)
