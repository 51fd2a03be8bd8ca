"""The checker finds what is wrong: every rule broken once in a plan that holds otherwise."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobs.planner.problem import (
    Day,
    Item,
    Link,
    Machine,
    Material,
    Problem,
    Quiet,
    Told,
    Way,
    Wish,
    WishKind,
)
from tests.jobs.planner.checker import faults
from tests.jobs.planner.weekend import at, job, person, problem, shift, window

SPRAY = job("spray", kind="spray", check_in=True, entry_min=240, exclusion_ft=50, ways=(Way(1, 60, ("sprayer",)),),
            spoiled_by=frozenset({"2,4-D"}), place="creek")  # fmt: skip
BURN = job("burn", kind="burn", ways=(Way(2, 60),), one_with=("boss",))
LOOK = job("look", plot="spray plot", place="creek")
SPRAYER = Machine("sprayer", "Sprayer", "farm", at("0:00"), at("24:00"), wash_min=30, carries=frozenset({"2,4-D"}))
CASE = problem(
    (SPRAY, BURN, LOOK, job("errand", rides_along=True, share_lost=0.0, materials=(("salt", 1.0),))),
    people=(person("ann", "boss"), person("bo")),
    machines=(SPRAYER,),
    materials=(Material("salt", "block", 1.0),),
    feet={("spray plot", "burn plot"): 500.0, ("spray plot", "errand plot"): 500.0},
)  # fmt: skip
"""Ann and Bo burn from 8:20 at the farm, 20 minutes from home. Ann then takes the sprayer along: 19 minutes of haul, 5
for hitching and 30 for the wash: 54 minutes after the errand. Bo looks at the creek before it."""
GOOD = (
    Item("burn", 0, ("ann sat", "bo sat"), at("8:20"), at("9:20")),
    Item("errand", 0, ("ann sat",), at("9:20"), at("10:20")),
    Item("look", 0, ("bo sat",), at("9:35"), at("10:35")),
    Item("spray", 0, ("ann sat",), at("11:14"), at("12:14"), "ann sat", "farm", ("sprayer",)),
)


def test_the_plan_that_is_broken_below_holds() -> None:
    assert faults(CASE, GOOD) == []


def changed(name: str, **fields: object) -> list[Item]:
    return [replace(item, **fields) if item.job == name else item for item in GOOD]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("items", "says"),
    [
        (changed("burn", start=at("8:19"), end=at("9:19")), "ann sat is at burn 1 minutes after its start"),
        (changed("burn", end=at("9:21")), "burn takes 60 minutes, not 61"),
        (changed("burn", shifts=("ann sat",)), "burn takes 2 people, not 1"),
        (changed("look", start=at("9:34"), end=at("10:34")), "bo sat is at look 1 minutes after its start"),
        (changed("spray", start=at("11:13"), end=at("12:13")), "ann sat is at spray 1 minutes after its start"),
        (changed("spray", washed=(), start=at("10:44"), end=at("11:44")), "sprayer carries 2,4-D into spray"),
        (changed("spray", fetched_at=None), "sprayer stands at farm, not where spray fetches it"),
        (changed("spray", brings=None), "spray: nobody of its crew brings its machines"),
        (changed("spray", brings="bo sat"), "spray: nobody of its crew brings its machines"),
        (changed("look", start=at("12:15"), end=at("13:15")), "look is on a plot that spray closed"),
        (changed("look", start=at("16:14"), end=at("17:14")), None),
        (changed("look", start=at("16:13"), end=at("17:13")), "look is on a plot that spray closed"),
        (changed("look", start=at("16:26"), end=at("17:26")), "bo sat is back late"),
        ([item for item in GOOD if item.job != "burn"], "errand makes a trip of its own for ann sat"),
        ([*GOOD, GOOD[0]], "burn is planned 2 times"),
        (changed("spray", shifts=("ann sat", "bo sat")), "spray takes 1 people, not 2"),
    ],
)
def test_a_broken_plan_is_told(items: list[Item], says: str | None) -> None:
    found = faults(CASE, items)
    assert found == [] if says is None else says in found


def other(**fields: object) -> Problem:
    return replace(CASE, **fields)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("case", "says"),
    [
        (other(people=(person("ann"), person("bo"))), "burn: nobody with boss"),
        (other(people=(person("ann", "boss", most_days=0), person("bo"))), "ann works more days than given"),
        (other(people=(replace(person("ann", "boss"), hauls=False), person("bo"))),
         "spray: ann sat has no vehicle to haul with"),
        (other(jobs=(replace(SPRAY, all_with=("handler",)), *CASE.jobs[:3])), "spray: somebody without handler"),
        (other(jobs=(replace(SPRAY, windows=(window("8:00", "12:13"),)), *CASE.jobs[:3])),
         "spray: outside its windows"),
        (other(jobs=(replace(SPRAY, told=(Told("law", "Closed."),)), *CASE.jobs[:3])), "spray: Closed."),
        (other(shifts=(shift("ann", children=True), shift("bo"))), "burn: children along"),
        (other(days=(Day("sat", at("0:00"), at("24:00"), at("8:21"), at("19:00")),)), "burn: in the dark"),
        (other(jobs=(replace(BURN, light_after_min=621), SPRAY, LOOK, CASE.job("errand"))), "burn: in the dark"),
        (other(quiet=(Quiet("creek", at("12:13"), at("14:00")),)), "spray: quiet at creek"),
        (other(quiet=(Quiet("creek", at("12:14"), at("14:00")),)), None),
        (other(links=(Link("burn", "look", 16),)), "look comes 15 minutes after burn"),
        (other(links=(Link("burn", "look", 0, 14),)), "look comes 15 minutes after burn"),
        (other(links=(Link("burn", "look", 15, 15),)), None),
        (other(one_of=(frozenset({"burn", "look"}),)), "more than one of burn, look"),
        (other(materials=(Material("salt", "block", 0.999),)), "not enough salt"),
        (other(feet={}), "look is too near to spray"),
        (other(machines=(replace(CASE.machines[0], free_to=at("12:13")),)), "sprayer is no longer to be had at spray"),
        (other(machines=(replace(CASE.machines[0], free_from=at("10:21")),)), "sprayer is not at spray in time"),
        (other(wishes=(Wish("w", WishKind.MUST_NOT, "look", person="bo"),)), "wish w: must not"),
        (other(wishes=(Wish("w", WishKind.MUST, "look", person="ann"),)), "wish w: look must go"),
        (other(wishes=(Wish("w", WishKind.MUST_NOT, "look", person="ann"),)), None),
    ],
)  # fmt: skip
def test_a_plan_that_a_stricter_problem_forbids_is_told(case: Problem, says: str | None) -> None:
    items = GOOD
    if says == "look is too near to spray":
        items = tuple(replace(i, start=at("11:30"), end=at("12:30")) if i.job == "look" else i for i in GOOD)
        case = replace(case, jobs=tuple(replace(j, plot="beside") if j.id == "look" else j for j in case.jobs))
    found = faults(case, items)
    assert found == [] if says is None else says in found


def test_a_keep_day_wish_is_told_on_the_other_day() -> None:
    two = problem((LOOK,), days=(Day("sat", at("0:00"), at("24:00"), at("6:00"), at("20:00")),
                  Day("sun", at("24:00"), at("48:00"), at("30:00"), at("44:00"))),
                  wishes=(Wish("w", WishKind.KEEP_DAY, "look", day="sun"),))  # fmt: skip
    item = Item("look", 0, ("bo sat",), at("9:00"), at("10:00"))
    assert faults(two, [item]) == ["wish w: another day than sun"]
