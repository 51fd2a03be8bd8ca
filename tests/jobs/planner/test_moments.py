"""One sprayer on a Saturday, and a planter that breaks down: what the planner makes of them. Hours are local."""

from __future__ import annotations

from dataclasses import replace

from jobs.planner.answer import Plan
from jobs.planner.loads import acres_until, loads, work_minutes
from jobs.planner.orders import other_order
from jobs.planner.problem import Job, Machine, Material, Problem, Told, Way
from jobs.planner.reasons import reasons
from jobs.planner.roads import closed
from jobs.planner.sheets import parked, sheets
from jobs.planner.solve import solve
from plots.capacity import acres_per_hour
from tests.jobs.planner.weekend import SHORT, at, day, job, person, planned, problem, shift, window

SPRAY_RATE = acres_per_hour(20, 5, 0.6)
A_TANK = 60 / 15
FILL_MIN = 20


def spray(name: str, acres: float, place: str, hours: tuple[str, str], puts: str, *spoiled_by: str) -> Job:
    parts = loads(acres, A_TANK)
    minutes = work_minutes(acres, acres_per_hour=SPRAY_RATE, fills=len(parts), fill_min=FILL_MIN)
    return job(
        name,
        kind="spray",
        acres=acres,
        place=place,
        windows=(window(*hours, closes_by="the wind"),),
        ways=(Way(1, minutes, ("sprayer",), parts),),
        check_in=True,
        entry_min=720,
        puts=frozenset({puts}),
        spoiled_by=frozenset(spoiled_by),
    )


def one_sprayer(*jobs: Job) -> Problem:
    return problem(
        jobs,
        people=(person("ann"),),
        shifts=(shift("ann", "7:00", "18:00", home="east"),),
        roads=closed({("east", "west"): 75}, ("east", "west"), haul_pct=100, hitch_min=0),
        machines=(Machine("sprayer", "Sprayer", "east", at("0:00"), at("24:00"), wash_min=60),),
    )


CLOVER = spray("clover", 5.0, "east", ("8:00", "11:00"), "clethodim", "2,4-D")
BURNDOWN = spray("burndown", 6.0, "west", ("8:00", "13:00"), "2,4-D")


def test_clover_goes_first_with_one_sprayer() -> None:
    """7.27 acres an hour and 4 acres a tank: two loads each, 41.25 + 40 and 49.5 + 40 minutes."""
    case = one_sprayer(CLOVER, BURNDOWN)
    items = planned(case)
    assert [(items[n].start, items[n].end) for n in ("clover", "burndown")] == [
        (at("8:00"), at("9:21")),
        (at("10:36"), at("12:06")),
    ]
    assert items["burndown"].fetched_at == "east"
    assert items["burndown"].washed == ()
    (sheet,) = sheets(case, tuple(items.values()))
    assert [len(work.loads) for work in sheet.work] == [2, 2]
    assert sheet.work[0].binds == "the wind"
    assert sheet.work[1].carries == (("Sprayer", ("2,4-D", "clethodim")),)


def test_the_other_order_is_refused_with_its_sum() -> None:
    """9:30 + 60 of washing + 75 of moving = 11:45, and the clover has to be begun by 9:39."""
    other = other_order(one_sprayer(CLOVER, replace(BURNDOWN, place="west")), CLOVER, BURNDOWN, "sprayer")
    assert other is not None
    assert (other.wash_min, other.move_min, other.by) == (60, 75, at("9:39"))
    assert not other.fits
    already_there = replace(one_sprayer(CLOVER, BURNDOWN), machines=(
        Machine("sprayer", "Sprayer", "west", at("0:00"), at("24:00"), wash_min=60),))  # fmt: skip
    other = other_order(already_there, CLOVER, BURNDOWN, "sprayer")
    assert other is not None
    assert (other.ends, other.starts) == (at("9:30"), at("11:45"))
    assert not other.fits


def test_the_next_clover_spray_is_held_by_what_the_sprayer_carries() -> None:
    later = replace(CLOVER, id="next clover", title="Next clover", windows=(window("8:00", "9:00"),))
    case = one_sprayer(CLOVER, BURNDOWN, later)
    (end,) = parked(case, tuple(planned(case).values()))
    assert (end.place, end.carries) == ("west", ("2,4-D", "clethodim"))
    assert end.wash_before == ("clover", "next clover")


def test_wind_from_nine_leaves_one_load_out_and_an_acre_that_needs_a_wash() -> None:
    done = acres_until(60, acres_a_load=A_TANK, acres_per_hour=SPRAY_RATE, fill_min=FILL_MIN, acres=5.0)
    assert done == 4.0
    first = spray("clover", done, "east", ("8:00", "9:00"), "clethodim", "2,4-D")
    rest = replace(
        spray("rest of the clover", 5.0 - done, "east", ("8:00", "9:00"), "clethodim", "2,4-D"),
        told=(Told("weather", "The wind is up at the clover from 9:00."),),
    )
    case = one_sprayer(first, rest, BURNDOWN)
    items = planned(case)
    assert items["clover"].end == at("8:53")
    assert "rest of the clover" not in items
    (end,) = parked(case, tuple(items.values()))
    assert end.wash_before == ("clover", "rest of the clover")


PLANTING_RATE = acres_per_hour(10, 4, 0.6)


def with_planter(acres: float, *, down: bool, seed: float) -> Problem:
    """Beans to plant, a stand to check and a gate to mend at the same place; Ann is there from 10:40."""
    minutes = work_minutes(acres, acres_per_hour=PLANTING_RATE)
    beans = job("beans", kind="plant", acres=acres, share_lost=0.8, check_in=True, materials=(("seed", acres),),
                ways=(Way(1, minutes, ("planter",)),))  # fmt: skip
    other = job("corn", kind="plant", acres=1.0, check_in=True, ways=(Way(1, 40, ("planter",)),))
    return problem(
        (beans, other, job("look"), job("gate", acres=0.5)),
        days=(day(0),),
        people=(person("ann"),),
        shifts=(shift("ann", "10:40", "18:00", home="farm"),),
        machines=(Machine("planter", "Planter", "farm", at("24:00") if down else at("0:00"), at("24:00")),),
        materials=(Material("seed", "unit", seed),),
    )


def test_six_point_four_acres_of_beans_take_two_hours_and_twelve() -> None:
    case = with_planter(6.4, down=False, seed=7.0)
    assert case.job("beans").ways[0].minutes == 132
    assert set(planned(case)) == {"beans", "corn", "gate", "look"}


def test_a_planter_that_is_down_takes_its_jobs_out_and_leaves_the_others_there() -> None:
    """2.5 of 6.4 acres are done, 4.5 of 7 units left: the rest waits, the person gets what goes without the planter."""
    case = with_planter(3.9, down=True, seed=4.5)
    items = planned(case)
    assert set(items) == {"gate", "look"}
    assert min(item.start for item in items.values()) == at("10:40")
    plan = solve(case, SHORT)
    assert isinstance(plan, Plan)
    found = {reason.job: reason for reason in reasons(case, plan)}
    assert {name: reason.kind for name, reason in found.items()} == {"beans": "machines", "corn": "machines"}
    assert found["beans"].with_it == ("planter",)
    assert found["beans"].sentence == "It would fit with another Planter where that one stands."


def test_seed_for_less_than_the_rest_is_no_fault_of_the_planter() -> None:
    case = with_planter(3.9, down=False, seed=3.0)
    assert "beans" not in planned(case)
    plan = solve(case, SHORT)
    assert isinstance(plan, Plan)
    (reason,) = reasons(case, plan)
    assert (reason.kind, reason.relaxable) == ("materials", False)
    assert reason.sentence == "It takes 3.9 unit of seed; there are 3 on hand and 0 to fetch."
