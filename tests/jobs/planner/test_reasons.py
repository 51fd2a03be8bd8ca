"""Each job that is left out gets one true reason; weather, law, certificates and crews are never to be relaxed."""

from __future__ import annotations

from jobs.planner.answer import Plan
from jobs.planner.problem import Job, Link, Machine, Problem, Quiet, Told, Way, Wish, WishKind
from jobs.planner.reasons import Reason, reasons
from jobs.planner.solve import solve
from tests.jobs.planner.weekend import SHORT, at, job, only_ann, person, problem, shift, window


def why(case: Problem) -> dict[str, Reason]:
    plan = solve(case, SHORT)
    assert isinstance(plan, Plan)
    return {reason.job: reason for reason in reasons(case, plan, SHORT)}


def in_one_hour(*names: str, **more: object) -> tuple[Job, ...]:
    """Jobs that all want the hour from 8:20; the first loses most."""
    return tuple(
        job(name, acres=float(9 - n), windows=(window("8:20", "9:20"),), **more) for n, name in enumerate(names)
    )


def test_another_pair_of_hands_lets_a_second_job_of_the_hour_in() -> None:
    reason = why(only_ann(*in_one_hour("one", "two")))["two"]
    assert (reason.kind, reason.relaxable) == ("people", True)


def test_another_machine_lets_it_in_where_people_are_there() -> None:
    mower = (Machine("mower", "Mower", "farm", at("0:00"), at("24:00")),)
    reason = why(problem(in_one_hour("one", "two", ways=(Way(1, 60, ("mower",)),)), machines=mower))["two"]
    assert (reason.kind, reason.with_it) == ("machines", ("mower",))


def test_longer_hours_let_it_in_where_it_may_go_then() -> None:
    """Free from 8:00 to 9:40: one hour's job. Two hours more make room for the second, which may go until noon."""
    case = only_ann(
        job("one", acres=2.0), job("two", windows=(window("8:00", "12:00"),)), shifts=(shift("ann", "8:00", "9:40"),)
    )
    reason = why(case)["two"]
    assert (reason.kind, reason.relaxable) == ("hours", True)


def test_a_wish_that_keeps_it_out_is_named() -> None:
    case = only_ann(job("look"), wishes=(Wish("rest", WishKind.MUST_NOT, person="ann"),))
    reason = why(case)["look"]
    assert (reason.kind, reason.with_it) == ("wishes", ("rest",))


def test_what_law_and_label_say_is_told_and_not_relaxed() -> None:
    told = (Told("law", "The nesting season is on until 1 August."),)
    reason = why(only_ann(job("mow", told=told)))["mow"]
    assert (reason.kind, reason.sentence, reason.relaxable) == ("law", told[0].sentence, False)


def test_weather_light_and_quiet_hours_are_told_apart() -> None:
    cases = {
        "weather": only_ann(job("look", windows=(window("9:00", "9:59"),))),
        "light": only_ann(job("look", windows=(window("17:00", "21:00"),), light_after_min=91)),
        "quiet": only_ann(job("look"), quiet=(Quiet("farm", at("0:00"), at("24:00"), "the partner hunts"),)),
    }
    for kind, case in cases.items():
        reason = why(case)["look"]
        assert (reason.kind, reason.relaxable) == (kind, False)
    assert "has 59" in why(cases["weather"])["look"].sentence
    assert "the partner hunts" in why(cases["quiet"])["look"].sentence


def test_a_missing_certificate_or_crew_is_told_and_no_hands_are_asked_for() -> None:
    burn = job("burn", kind="burn", ways=(Way(2, 60),), one_with=("boss",))
    assert why(problem((burn,)))["burn"].kind == "certificate"
    alone = why(only_ann(burn, people=(person("ann", "boss"),)))["burn"]
    assert (alone.kind, alone.relaxable) == ("crew", False)


def test_what_fits_only_instead_of_better_work_names_it() -> None:
    """One burn boss, two burns in the same hour: no uncertified hands, machine or hours help. 9 against 8 acres, half
    of each lost."""
    people = (person("ann", "boss"), person("bo"))
    burns = in_one_hour("one", "two", kind="burn", one_with=("boss",), ways=(Way(2, 60),))
    reason = why(problem(burns, people=people))["two"]
    assert (reason.kind, reason.with_it, reason.relaxable) == ("worth", ("one",), False)
    assert reason.sentence == "It fits only instead of One, and 0.5 acre-seasons less would be kept."


def test_a_wait_that_does_not_end_in_these_days_is_told() -> None:
    reason = why(only_ann(job("mow"), job("look"), links=(Link("mow", "look", 2_000),)))["look"]
    assert (reason.kind, reason.relaxable) == ("waits", False)
    assert "Mow" in reason.sentence


def test_every_job_left_out_has_one_reason_and_no_other_job_has() -> None:
    case = only_ann(*in_one_hour("one", "two", "three", "four"))
    assert set(why(case)) == {"two", "three", "four"}
