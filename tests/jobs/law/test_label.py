"""Entry to the minute, the longest of a mix, washing and sums; the figures are the tests' own."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from jobs.facts import Bound
from jobs.graph.data import FAR, NEG
from jobs.law import label
from jobs.law.data import ActiveShare, LabelFact, PlantWait, Spray, names_of
from jobs.minutes import ceil_minute, floor_minute

END = 1_000_000
BOTTLE = LabelFact(1, "Bottle", ("glyphosate",), True, 20.0, source="as typed")
CAN = LabelFact(2, "Can", ("2,4-d",), True, 36.0)
SPRAY = Spray(5, 3, (BOTTLE,), END - 90, (END,), True)


def holds_at(bounds: list[Bound], minute: int) -> list[str]:
    return [bound.kind for bound in bounds if bound.first <= minute < bound.last]


@pytest.mark.parametrize(
    ("seconds", "held"), [(-1, True), (0, False), (1, False)], ids=["a second before", "exactly", "a second after"]
)
@pytest.mark.parametrize("zone", ["UTC", "America/Chicago"])
def test_entry_ends_at_the_second_that_the_interval_ends(seconds: int, held: bool, zone: str) -> None:
    """The same instants told in UTC or in the property's time; the night between has 23 hours in Chicago."""
    ended = datetime(2027, 3, 13, 21, 15, tzinfo=UTC).astimezone(ZoneInfo(zone))
    spray = replace(SPRAY, begun=None, ends=(ceil_minute(ended),))
    asked = ended.astimezone(UTC) + timedelta(hours=20, seconds=seconds)
    bounds = list(label.entry(9, None, [spray]))
    assert bool(holds_at(bounds, floor_minute(asked.astimezone(ZoneInfo(zone))))) is held


def test_an_end_within_a_minute_counts_to_the_next_one() -> None:
    ended = datetime(2027, 6, 1, 12, 0, 30, tzinfo=UTC)
    (bound,) = label.entry(9, None, [replace(SPRAY, ends=(ceil_minute(ended),))])
    assert bound.last == floor_minute(ended) + 1 + 20 * 60


def test_the_longest_of_a_mix_governs_and_says_which() -> None:
    (bound,) = label.entry(9, None, [replace(SPRAY, labels=(BOTTLE, CAN))])
    assert (bound.last, bound.rule, bound.inputs["hours"]) == (END + 36 * 60, "label:2", 36.0)
    assert bound.inputs["mix"] == {"1": 20.0, "2": 36.0}
    assert bound.source == "40-cfr-170"


def test_a_product_without_a_typed_time_keeps_everybody_out_until_it_is_typed() -> None:
    bounds = list(label.entry(9, None, [replace(SPRAY, labels=(BOTTLE, replace(CAN, entry_hours=None)))]))
    assert holds_at(bounds, END) == ["label", "entry"]
    assert holds_at(bounds, END + 1_000_000) == ["label"]


def test_a_typed_time_of_none_at_all_holds_nobody_after_the_spray() -> None:
    assert list(label.entry(9, None, [replace(SPRAY, labels=(replace(BOTTLE, entry_hours=0.0),))])) == []


def test_the_spray_itself_and_its_round_are_no_entry_by_others() -> None:
    in_round = replace(SPRAY, round=7)
    assert list(label.entry(5, None, [SPRAY])) == []
    assert list(label.entry(9, 7, [in_round])) == []
    assert list(label.entry(9, None, [in_round]))
    assert list(label.entry(9, 8, [in_round]))


def test_of_parts_the_last_is_the_strictest() -> None:
    (bound,) = label.entry(9, None, [replace(SPRAY, ends=(END, END + 2880))])
    assert (bound.first, bound.last) == (END, END + 2880 + 1200)
    assert bound.inputs["parts"] == [END + 1200, END + 2880 + 1200]


def test_waits_are_of_the_work_that_they_name() -> None:
    spray = replace(SPRAY, labels=(replace(BOTTLE, till_wait_days=5.0, mow_wait_days=8.0),))
    assert [bound.last - END for bound in label.waits("till", [spray])] == [5 * 1440]
    assert [bound.last - END for bound in label.waits("mow", [spray])] == [8 * 1440]
    assert list(label.waits("fence", [spray])) == []


# what the sprayer carries

CARRIED = replace(SPRAY, labels=(replace(CAN, wash_known=True, wash_before=("clover", "soybean")),),
                  machines=frozenset({4}))  # fmt: skip


def tank(crop: str, washed: dict[int, int], *sprays: Spray) -> list[Bound]:
    return list(label.tank([BOTTLE], crop, label.carried(sprays, washed, [4]), 4))


def test_a_sensitive_crop_waits_for_a_washed_sprayer_and_another_does_not() -> None:
    (bound,) = tank("clover", {}, CARRIED)
    assert (bound.report, bound.inputs["machine"], bound.inputs["material"]) == ("sprayer_washed", 4, 2)
    assert tank("corn", {}, CARRIED) == []


def test_washing_counts_from_then_on_and_not_for_what_came_after_it() -> None:
    assert tank("clover", {4: END}, CARRIED) == []
    assert tank("clover", {4: END - 1}, CARRIED)
    assert tank("clover", {5: END + 10}, CARRIED), "another machine was washed"


def test_another_spray_in_between_washes_nothing() -> None:
    between = replace(
        SPRAY, job=6, ends=(END + 100,), machines=frozenset({4}), labels=(replace(BOTTLE, material=3, wash_known=True),)
    )
    assert tank("clover", {}, CARRIED, between)


def test_what_is_not_known_of_label_crop_or_machine_is_no_leave() -> None:
    unread = replace(CARRIED, labels=(CAN,))
    assert [bound.inputs["known"] for bound in tank("corn", {}, unread)] == [False]
    assert tank("", {}, CARRIED), "no crop is named"
    assert tank("clover", {}, replace(CARRIED, machines=frozenset())), "any of the machines may have carried it"


def test_the_same_material_again_asks_for_no_washing() -> None:
    assert list(label.tank([CARRIED.labels[0]], "clover", label.carried([CARRIED], {}, [4]), 4)) == []


# the sum of a year

SHARED = replace(BOTTLE, shares={"glyphosate": ActiveShare(4.0, "lb ae", 6.0)})
PLANNED = Spray(9, 3, (SHARED,), rates={1: 0.5})
BEFORE = replace(SPRAY, labels=(SHARED,), rates={1: 1.0})


def totals(planned: Spray, *before: Spray, first: int = 0, last: int = 2 * END) -> list[Bound]:
    return list(label.season_totals(planned, before, first=first, last=last, year=2027))


def test_up_to_the_maximum_is_free_and_above_it_is_a_stop_with_the_sum() -> None:
    """4 lb ae a gallon: 1 gal + 0.5 gal an acre are 6 lb ae, the most; 0.51 are 6.04."""
    assert totals(PLANNED, BEFORE) == []
    (bound,) = totals(replace(PLANNED, rates={1: 0.51}), BEFORE)
    assert (bound.kind, bound.inputs["sum"], bound.inputs["most"]) == ("season_total", 6.04, 6.0)
    assert bound.inputs["sprays"] == [5]


def test_another_year_or_another_active_does_not_count() -> None:
    assert totals(replace(PLANNED, rates={1: 1.5}), BEFORE, first=END + 1) == []
    assert (
        totals(replace(PLANNED, rates={1: 1.5}), replace(BEFORE, labels=(replace(SHARED, actives=("dicamba",)),))) == []
    )


def test_the_same_active_in_another_product_counts_and_the_least_maximum_binds() -> None:
    other = LabelFact(3, "Drum", ("glyphosate",), True, shares={"glyphosate": ActiveShare(5.0, "lb ae", 4.0)})
    (bound,) = totals(PLANNED, replace(BEFORE, labels=(other,), rates={3: 0.5}))
    assert (bound.inputs["sum"], bound.inputs["most"]) == (4.5, 4.0)


def test_a_rate_or_a_content_that_is_not_known_makes_the_sum_unknown_and_holds() -> None:
    for unknown in (replace(BEFORE, rates={}), replace(BEFORE, labels=(BOTTLE,))):
        (bound,) = totals(PLANNED, unknown)
        assert bound.inputs["sum"] is None


def test_where_no_maximum_was_typed_nothing_is_summed() -> None:
    assert totals(replace(PLANNED, labels=(BOTTLE,)), BEFORE.__class__(5, 3, (BOTTLE,), None, (END,))) == []


def test_a_comma_inside_a_name_parts_no_names() -> None:
    assert names_of("2,4-D ester, Glyphosate") == ("2,4-d ester", "glyphosate")


def test_first_bound_of_a_plan_alone_has_no_begin() -> None:
    (bound,) = totals(replace(PLANNED, rates={1: 2.0}))
    assert bound.first == NEG


@pytest.mark.parametrize(
    ("names", "crop", "goes"),
    [
        (("white clover",), "white_clover", True),
        (("white clover", "alfalfa"), "corn", False),
        (("*",), "corn", True),
        (("*",), "", True),
        (("white clover",), "", False),
        ((), "white_clover", False),
    ],
)
def test_a_label_that_names_the_crop_asks_for_no_lot(names: tuple[str, ...], crop: str, goes: bool) -> None:
    assert label.goes_over(LabelFact(1, "Bottle", ("clethodim",), True, over_crops=names), crop) is goes


CORN = replace(SPRAY, labels=(replace(BOTTLE, plant_back={"soybean": PlantWait(10.0), "": PlantWait(30.0, 1.0)}),))
CORN = replace(CORN, crop="corn", residual=True)
DAY = 1440


def waits_for(crop: str, spray: Spray = CORN, rain: int | None = None) -> list[tuple[str, int, str]]:
    """(kind, last minute after the end of the spray, what it waits for) of the bounds."""
    bounds = label.plant_backs(crop, [spray], lambda at, inches: rain)
    return [(bound.kind, bound.last - END, bound.report or bound.who) for bound in bounds]


def test_a_crop_goes_before_any_other_by_key_or_name() -> None:
    assert waits_for("soybean") == [("label_wait", 10 * DAY, "")]
    assert waits_for("Soybean ") == waits_for("soybean")
    assert waits_for("clover", rain=END + 2 * DAY) == [("label_wait", 32 * DAY, "")]


def test_without_the_rain_there_is_no_end() -> None:
    (bound,) = label.plant_backs("clover", [CORN], lambda at, inches: None)
    assert (bound.last, bound.report) == (FAR, "rain")


def test_the_crop_that_was_sprayed_for_is_not_asked_about_and_others_are() -> None:
    assert waits_for("corn") == [], "nor is it any other"
    named = replace(CORN, labels=(replace(BOTTLE, plant_back={"soybean": PlantWait(0.0)}),))
    assert waits_for("corn", named) == []
    assert waits_for("soybean", named) == []
    assert [kind for kind, *_ in waits_for("clover", named)] == ["label"]
    assert [kind for kind, *_ in waits_for("", named)] == ["label"], "a crop that nobody named is no leave"
    nothing = replace(CORN, labels=(BOTTLE,))
    assert [kind for kind, *_ in waits_for("clover", nothing)] == ["label"]
    assert waits_for("clover", replace(nothing, residual=False)) == []
