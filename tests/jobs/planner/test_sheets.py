"""What stands on the sheets of a day with a machine to fetch and a tank to wash."""

from __future__ import annotations

from jobs.planner.problem import Machine, Material, Quiet, Way
from jobs.planner.sheets import Move, Parked, moves, parked, sheets
from tests.jobs.planner.weekend import at, job, only_ann, planned, problem, window

SPRAY = job(
    "spray",
    kind="spray",
    check_in=True,
    entry_min=240,
    place="creek",
    ways=(Way(1, 90, ("sprayer",), (4.0, 1.5)),),
    windows=(window("8:00", "11:30", closes_by="the wind"),),
    puts=frozenset({"clethodim"}),
    spoiled_by=frozenset({"2,4-D"}),
    materials=(("clethodim", 0.75),),
    gear=("gloves", "goggles"),
    tools=("funnel",),
    cautions=("The label is the law.",),
)
SPRAYER = Machine("sprayer", "Sprayer", "farm", at("0:00"), at("24:00"), wash_min=30, carries=frozenset({"2,4-D"}))
CASE = only_ann(
    SPRAY,
    job("look", place="creek", windows=(window("12:30", "15:00"),), tools=("tape",), gear=("gloves",)),
    machines=(SPRAYER,),
    materials=(Material("clethodim", "gal", 2.0),),
    quiet=(Quiet("creek", at("14:00"), at("18:00"), "the partner hunts"),),
)  # fmt: skip
ITEMS = tuple(planned(CASE).values())


def test_a_sheet_runs_from_leaving_to_coming_back() -> None:
    """20 minutes to the farm, 5 to hitch, 19 of haul, 30 for the wash: from 8:00 to 9:14. Home is 35 from the creek."""
    (sheet,) = sheets(CASE, ITEMS)
    assert (sheet.person, sheet.day, sheet.leave, sheet.back) == ("Ann", "sat", at("8:00"), at("14:05"))
    assert [(work.job, work.start, work.end) for work in sheet.work] == [
        ("spray", at("9:14"), at("10:44")),
        ("look", at("12:30"), at("13:30")),
    ]


def test_what_is_loaded_stands_once_with_its_amounts() -> None:
    (sheet,) = sheets(CASE, ITEMS)
    assert sheet.machines == ("Sprayer",)
    assert sheet.materials == (("clethodim", 0.75, "gal"),)
    assert sheet.tools == ("funnel", "tape")
    assert sheet.gear == ("gloves", "goggles")


def test_each_job_says_what_ends_its_hours_and_its_tanks() -> None:
    spray, look = sheets(CASE, ITEMS)[0].work
    assert (spray.ready_by, spray.binds, spray.loads) == (at("11:30"), "the wind", (4.0, 1.5))
    assert (spray.fetch_at, spray.wash, spray.carries) == ("farm", ("sprayer",), (("Sprayer", ("clethodim",)),))
    assert spray.cautions == ("The label is the law.",)
    assert (look.ready_by, look.binds) == (at("14:00"), "the partner hunts")


def test_a_machine_has_its_moves_and_the_place_where_it_stays() -> None:
    assert moves(CASE, ITEMS) == (Move("Sprayer", at("8:20"), at("8:44"), "farm", "creek", "Ann", "spray"),)
    assert parked(CASE, ITEMS) == (Parked("Sprayer", "creek", ("clethodim",), ()),)


def test_a_crew_names_each_other_and_the_material_goes_with_one_of_them() -> None:
    burn = job("burn", kind="burn", ways=(Way(2, 60),), materials=(("fuel", 2.0),))
    case = problem((burn,), materials=(Material("fuel", "gal", 5.0),))
    both = sheets(case, tuple(planned(case).values()))
    assert [(sheet.person, sheet.work[0].crew) for sheet in both] == [("Ann", ("Bo",)), ("Bo", ("Ann",))]
    assert [sheet.materials for sheet in both] == [(("fuel", 2.0, "gal"),), ()]
