"""Driving times are closed under detours, and a trailer is slower."""

import pytest

from jobs.planner.roads import Roads, closed, road_minutes


def test_a_detour_that_is_shorter_replaces_the_typed_time() -> None:
    roads = closed({("a", "b"): 40, ("b", "c"): 10, ("a", "c"): 15}, "abc")
    assert roads.drive("a", "b") == 25
    assert roads.drive("b", "a") == 25


def test_one_way_only_counts_for_both_and_each_way_for_itself_where_both_are_typed() -> None:
    roads = closed({("a", "b"): 12, ("b", "a"): 18}, "ab")
    assert (roads.drive("a", "b"), roads.drive("b", "a")) == (12, 18)


def test_a_place_without_a_way_is_named() -> None:
    with pytest.raises(ValueError, match="no way from a to c"):
        closed({("a", "b"): 5}, "abc")


def test_a_table_that_is_not_closed_is_refused() -> None:
    table = {(a, b): 0 if a == b else 10 for a in "abc" for b in "abc"} | {("a", "c"): 30}
    with pytest.raises(ValueError, match="From a to c is longer than by b"):
        Roads(table, tuple("abc"))


def test_a_trailer_takes_a_quarter_longer_and_its_hitching() -> None:
    """21 minutes at 125 % are 26.25, so 27, and 10 for hitching; by way of the yard 5 more."""
    roads = closed({("yard", "farm"): 21, ("home", "yard"): 5}, ("home", "yard", "farm"))
    assert roads.haul("yard", "farm") == 37
    assert roads.haul("farm", "farm") == 0
    assert roads.fetch("home", "yard", "farm") == 42


def test_ten_straight_miles_at_40_mph_are_19_and_a_half_minutes_of_road() -> None:
    assert road_minutes(10, mph=40) == 20
    assert road_minutes(10, mph=40, factor=1.0) == 15
    with pytest.raises(ValueError):
        road_minutes(10, mph=0)
