"""What a plan keeps, rule by rule, on a plain Saturday; each plan is looked through by the checker."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from jobs.graph.data import Relation
from jobs.planner.answer import Effort, Plan, Refused, TooLarge
from jobs.planner.problem import (
    AIM,
    Job,
    Level,
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
from jobs.planner.solve import smallest_conflict, solve
from tests.jobs.planner.cases import small
from tests.jobs.planner.checker import faults
from tests.jobs.planner.exhaustive import Search
from tests.jobs.planner.weekend import SHORT, at, day, job, only_ann, person, planned, problem, shift, window

LEVELS = (Level.KEPT, Level.FIRST, Level.ERRANDS, Level.DRIVING)


@pytest.mark.parametrize("seed", range(500, 540))
def test_the_best_value_is_that_of_an_exhaustive_search(seed: int) -> None:
    """What is kept, first wishes, errands and driving, on problems with every rule in them somewhere."""
    case = small(seed, (3, 4))
    search, plan = Search(case), solve(case, SHORT)
    if search.best is None:
        assert isinstance(plan, Refused)
        return
    assert isinstance(plan, Plan)
    assert faults(case, plan.items) == []
    assert tuple(score.value for score in plan.scores if score.level in LEVELS) == search.best
    assert plan.proved


def test_of_two_jobs_in_one_hour_the_one_that_loses_more_is_kept() -> None:
    """3 acres of which a fifth is lost are 0.6, 1 acre of which 0.7 is lost are 0.7."""
    hours = (window("9:00", "10:00"),)
    wide = job("wide", acres=3.0, share_lost=0.2, windows=hours)
    deep = job("deep", acres=1.0, share_lost=0.7, windows=hours)
    assert set(planned(only_ann(wide, deep))) == {"deep"}
    assert set(planned(problem((wide, deep)))) == {"deep", "wide"}


def test_the_drive_out_and_back_lies_inside_the_free_hours() -> None:
    """Free from 8:00 to 9:40 with 20 minutes each way leaves exactly the hour from 8:20."""
    short = {"shifts": (shift("ann", "8:00", "9:40"),)}
    assert planned(only_ann(job("look"), **short))["look"].start == at("8:20")
    assert planned(only_ann(job("look"), **{"shifts": (shift("ann", "8:00", "9:39"),)})) == {}


def test_children_along_keep_their_person_off_dangerous_work() -> None:
    mow = job("mow", kind="mow", check_in=True)
    family = {"shifts": (shift("ann", children=True),)}
    assert set(planned(only_ann(mow, job("look"), **family))) == {"look"}


def test_a_burn_takes_its_boss_and_a_second_person() -> None:
    burn = job("burn", kind="burn", ways=(Way(2, 60),), one_with=("boss",))
    assert planned(problem((burn,))) == {}
    with_boss = problem((burn,), people=(person("ann", "boss"), person("bo")))
    assert planned(with_boss)["burn"].shifts == ("ann sat", "bo sat")
    alone = only_ann(burn, people=(person("ann", "boss"),))
    assert planned(alone) == {}


def test_a_certificate_that_ends_within_the_day_is_none() -> None:
    """It has to hold for the whole local day."""
    look = job("look", all_with=("handler",))
    ann = person("ann", "handler")
    whole = replace(ann, certificates=(replace(ann.certificates[0], valid_to=at("24:00")),))
    ended = replace(ann, certificates=(replace(ann.certificates[0], valid_to=at("23:59")),))
    assert set(planned(only_ann(look, people=(whole,)))) == {"look"}
    assert planned(only_ann(look, people=(ended,))) == {}


def test_a_second_pair_of_hands_is_taken_where_it_saves_the_day() -> None:
    """Alone the fence takes 4 hours, together 2; until 11 only the second is possible."""
    fence = job("fence", ways=(Way(1, 240), Way(2, 120)), windows=(window("8:00", "11:00"),))
    assert planned(problem((fence,)))["fence"].way == 1
    assert planned(only_ann(fence)) == {}


def test_a_wait_between_two_jobs_is_kept_and_without_the_first_there_is_no_second() -> None:
    mow, look = job("mow"), job("look", windows=(window("8:00", "12:00"),))
    late = only_ann(mow, look, links=(Link("mow", "look", 90),))
    items = planned(late)
    assert items["look"].start >= items["mow"].end + 90
    assert planned(replace(late, links=(Link("mow", "look", 101),))).keys() == {"mow"}
    closed = replace(late, jobs=(replace(mow, told=(Told("law", "Closed."),)), look))
    assert planned(closed) == {}


def test_a_longest_wait_delays_the_first() -> None:
    """The look is from 15:00 on; the mow may end at most 30 minutes before it."""
    mow, look = job("mow"), job("look", windows=(window("15:00", "17:00"),))
    items = planned(only_ann(mow, look, links=(Link("mow", "look", 0, 30, Relation.FINISH_START),)))
    assert items["look"].start - items["mow"].end <= 30


def test_nobody_works_on_a_plot_before_its_entry_time_is_over() -> None:
    spray = job("spray", kind="spray", check_in=True, entry_min=240, windows=(window("8:00", "9:20"),))
    look = job("look", plot="spray plot", windows=(window("8:40", "13:00"),))
    assert len(planned(problem((spray, look)))) == 1
    later = replace(look, windows=(window("8:40", "14:20"),))
    assert planned(problem((spray, later)))["look"].start == at("13:20")


def test_nobody_works_near_a_spray_and_an_unknown_distance_is_near() -> None:
    hours = (window("8:20", "9:20"),)
    spray = job("spray", kind="spray", check_in=True, entry_min=0, exclusion_ft=25, windows=hours)
    look = job("look", windows=hours)
    for feet, together in (({("spray plot", "look plot"): 25.0}, 2), ({("look plot", "spray plot"): 24.9}, 1), ({}, 1)):
        assert len(planned(problem((spray, look), feet=feet))) == together


def test_quiet_hours_and_darkness_close_a_place() -> None:
    look = job("look", windows=(window("8:00", "10:00"),))
    assert planned(only_ann(look, quiet=(Quiet("farm", at("9:00"), at("18:00")),))) == {}
    dusk = job("dusk", windows=(window("17:00", "20:00"),), light_after_min=90)
    long = {"shifts": (shift("ann", "8:00", "21:00"),)}
    assert planned(only_ann(dusk, **long))["dusk"].end <= at("18:00")
    assert planned(only_ann(replace(dusk, light_after_min=91), **long)) == {}


def test_one_machine_serves_one_job_at_a_time_and_is_hauled_by_a_fit_vehicle() -> None:
    mowers = (Machine("mower", "Mower", "farm", at("0:00"), at("24:00")),)
    ways = (Way(1, 60, ("mower",)),)
    here = job("here", ways=ways, windows=(window("8:20", "9:20"),))
    there = job("there", ways=ways, place="creek", windows=(window("8:00", "10:44"),))
    case = problem((here, there), machines=mowers)
    items = planned(case)
    """15 minutes of drive make 19 of haul and 5 of hitching: from 9:20 to 9:44, and an hour there."""
    assert items["there"].start == at("9:44")
    assert items["there"].fetched_at == "farm"
    cars = replace(case, people=tuple(replace(one, hauls=False) for one in case.people))
    assert set(planned(cars)) == {"here"}
    assert len(planned(replace(case, jobs=(here, replace(there, windows=(window("8:00", "10:43"),)))))) == 1


def test_a_machine_on_loan_is_back_before_its_hour() -> None:
    work = job("work", ways=(Way(1, 60, ("mower",)),))
    for until, there in (("9:20", {"work"}), ("9:19", set())):
        case = only_ann(work, machines=(Machine("mower", "Mower", "farm", at("0:00"), at(until)),))
        assert set(planned(case)) == there


def test_a_tank_is_washed_before_what_it_would_spoil_and_not_otherwise() -> None:
    def sprays(*spoiled: str) -> Problem:
        first, second = (
            job(name, kind="spray", check_in=True, entry_min=0, ways=(Way(1, 60, ("sprayer",)),), windows=(hours,),
                puts=frozenset({puts}), spoiled_by=frozenset(bad))
            for name, puts, bad, hours in (
                ("first", "2,4-D", (), window("8:20", "9:20")),
                ("second", "clethodim", spoiled, window("9:00", "11:05")),
            )
        )  # fmt: skip
        sprayer = Machine("sprayer", "Sprayer", "farm", at("0:00"), at("24:00"), wash_min=45)
        return only_ann(first, second, machines=(sprayer,))

    assert planned(sprays())["second"].start == at("9:20")
    washed = planned(sprays("2,4-D"))["second"]
    assert (washed.start, washed.washed) == (at("10:05"), ("sprayer",))


def test_more_seed_than_there_is_has_to_be_fetched_first() -> None:
    plant = job("plant", materials=(("seed", 2.0),))
    fetch = job("fetch", share_lost=0.0, place="creek", ways=(Way(1, 15),))
    case = only_ann(plant, fetch, materials=(Material("seed", "bag", 1.0, "fetch", 1.0),))
    items = planned(case)
    assert items["plant"].start >= items["fetch"].end + 15
    assert planned(replace(case, materials=(Material("seed", "bag", 1.0),))).get("plant") is None


def test_an_errand_rides_along_and_makes_no_trip() -> None:
    salt = job("salt", rides_along=True, share_lost=0.0)
    assert planned(only_ann(salt)) == {}
    assert set(planned(only_ann(salt, job("look")))) == {"salt", "look"}
    assert set(planned(only_ann(salt, job("look", place="creek")))) == {"look"}


def test_no_more_days_than_somebody_gives() -> None:
    jobs = (job("one"), job("two", windows=(window("8:00", "12:00", 1),)))
    two = {"days": (day(0), day(1)), "shifts": (shift("ann"), shift("ann", n=1))}
    assert len(planned(only_ann(*jobs, **two))) == 2
    assert len(planned(only_ann(*jobs, people=(person("ann", most_days=1),), **two))) == 1


def test_driving_less_comes_after_keeping_more() -> None:
    """Both can do both; one goes to the farm twice as near, and nobody goes who need not."""
    items = planned(problem((job("one"), job("two"))))
    assert {item.shifts for item in items.values()} in ({("ann sat",)}, {("bo sat",)})


# wishes


def test_a_first_wish_decides_between_equals_and_gives_nothing_up() -> None:
    hours = (window("8:20", "9:20"),)
    equal = (job("one", windows=hours), job("two", windows=hours))
    for name in ("one", "two"):
        assert set(planned(only_ann(*equal, wishes=(Wish("w", WishKind.FIRST, name),)))) == {name}
    better = (equal[0], replace(equal[1], share_lost=0.6))
    assert set(planned(only_ann(*better, wishes=(Wish("w", WishKind.FIRST, "one"),)))) == {"two"}


def test_hard_wishes_hold_whatever_they_cost() -> None:
    hours = (window("8:20", "9:20"),)
    small_one, big = job("small", windows=hours), job("big", acres=9.0, windows=hours)
    assert set(planned(only_ann(small_one, big, wishes=(Wish("w", WishKind.MUST, "small"),)))) == {"small"}
    assert set(planned(only_ann(small_one, big, wishes=(Wish("w", WishKind.MUST_NOT, "big"),)))) == {"small"}
    assert planned(problem((big,), wishes=(Wish("w", WishKind.MUST, "big", person="bo"),)))["big"].shifts == ("bo sat",)


def test_wishes_that_cannot_hold_are_refused_with_the_fewest_that_conflict() -> None:
    """Two jobs in the same hour for one person, and two wishes that have nothing to do with it."""
    hours = (window("8:20", "9:20"),)
    wishes = (
        Wish("a", WishKind.MUST, "look"),
        Wish("b", WishKind.MUST, "one"),
        Wish("c", WishKind.MUST_NOT, "other"),
        Wish("d", WishKind.MUST, "two"),
    )
    case = only_ann(job("one", windows=hours), job("two", windows=hours), job("look"), job("other"), wishes=wishes)
    answer = solve(case, SHORT)
    assert isinstance(answer, Refused)
    assert [wish.id for wish in answer.wishes] == ["b", "d"]
    assert [wish.id for wish in smallest_conflict(case, SHORT)] == ["b", "d"]


def test_a_wish_for_what_nobody_may_do_is_refused_alone() -> None:
    case = only_ann(job("look", all_with=("handler",)), wishes=(Wish("w", WishKind.MUST, "look"),))
    answer = solve(case, SHORT)
    assert isinstance(answer, Refused)
    assert [wish.id for wish in answer.wishes] == ["w"]


# the same answer, and clear answers


def shuffled(case: Problem, seed: int) -> Problem:
    draw = random.Random(seed)
    rows = {name: draw.sample(getattr(case, name), len(getattr(case, name)))
            for name in ("days", "people", "shifts", "jobs", "machines", "links", "wishes")}  # fmt: skip
    return replace(case, **{name: tuple(own) for name, own in rows.items()})


@pytest.mark.parametrize("seed", [3, 6, 12])
def test_a_plan_is_the_same_every_time_whatever_the_order_of_its_rows(seed: int) -> None:
    plans = [solve(shuffled(small(seed), at_once), SHORT) for at_once in range(3)]
    assert isinstance(plans[0], Plan)
    assert plans[0].proved
    assert plans[0].repeatable
    assert plans[1] == plans[0] == plans[2]


def test_nobody_free_and_nothing_to_do_are_plans_without_work() -> None:
    nobody = problem((job("look"),), people=(), shifts=())
    assert planned(nobody) == {}
    assert planned(problem(())) == {}
    assert planned(problem((), people=(), shifts=())) == {}


def test_ten_thousand_jobs_are_answered_with_what_to_ask_for_instead() -> None:
    answer = solve(problem(job(f"job{n}") for n in range(10_000)))
    assert isinstance(answer, TooLarge)
    assert answer.sentence == (
        "10000 jobs and 2 stretches of free hours are more than a plan is made of (300 and 80). "
        "Ask for fewer days, or for some of the properties."
    )


def test_the_order_of_the_aim_is_data() -> None:
    """Without the level of what is kept, nobody drives anywhere for half an acre."""
    case = only_ann(job("look"))
    at_home = replace(case, aim=(Level.DRIVING, *(level for level in AIM if level is not Level.DRIVING)))
    answer = solve(at_home, SHORT)
    assert isinstance(answer, Plan)
    assert answer.items == ()


def test_a_plan_cut_short_says_how_far_it_may_be_from_the_best() -> None:
    jobs: list[Job] = [job(f"job{n}", acres=1.0 + n / 7, place=("farm", "creek")[n % 2]) for n in range(24)]
    case = problem(jobs)
    answer = solve(case, Effort(work=0.02, wall_s=60.0))
    assert isinstance(answer, Plan)
    assert faults(case, answer.items) == []
    score = answer.score(Level.KEPT)
    assert score is not None
    assert score.value <= score.most <= sum(one.stake for one in jobs)
    assert not answer.proved
    assert answer.repeatable
    assert answer == solve(case, Effort(work=0.02, wall_s=60.0))


def test_a_plan_that_the_clock_stopped_says_so() -> None:
    case = problem([job(f"job{n}", acres=1.0 + n / 7, place=("farm", "creek")[n % 2]) for n in range(24)])
    answer = solve(case, Effort(work=50.0, wall_s=0.1))
    assert isinstance(answer, Plan)
    assert faults(case, answer.items) == []
    assert not answer.repeatable
    assert [score.level for score in answer.scores] == list(AIM)
