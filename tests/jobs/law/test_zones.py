"""Who stands too near, and what is small enough for the short form."""

import math

import pytest

from jobs.law.zones import Presence, exclusion, exclusion_ft, inside, is_spot


@pytest.mark.parametrize("method", ["aerial", "air_blast", "fumigant", "smoke", "mist", "fog", "unheard of"])
def test_what_carries_far_or_is_not_known_keeps_a_hundred_feet(method: str) -> None:
    assert exclusion_ft(method, vmd_microns=500, height_in=20) == 100


@pytest.mark.parametrize(
    ("microns", "height", "feet"),
    [(293.9, 20, 100), (294, 20, 25), (294, 12.1, 25), (294, 12, 0), (None, 20, 100), (400, None, 25)],
)
def test_fine_droplets_keep_a_hundred_feet_others_from_above_a_foot_twenty_five(
    microns: float | None, height: float | None, feet: float
) -> None:
    """EPA 2019: volume median under 294 microns; released from more than 12 in above the soil."""
    assert exclusion_ft("boom", vmd_microns=microns, height_in=height) == feet


def test_at_the_radius_one_is_outside_and_an_unknown_distance_is_inside() -> None:
    others = {"crew at the creek": 24.9, "neighbour over the border": 25.0, "helper": None, "dog walker": math.nan}
    assert inside(others, 25) == ["crew at the creek", "dog walker", "helper"]
    assert inside(others, 0) == []


@pytest.mark.parametrize(
    ("areas", "spot"),
    [([0.09], True), ([0.1], False), ([0.05, 0.05], False), ([0.05, 0.04], True), ([0.02, None], False), ([], False)],
)
def test_a_spot_is_under_a_tenth_of_an_acre_in_all_of_one_day(areas: list[float | None], spot: bool) -> None:
    assert is_spot(areas) is spot


def test_a_nursery_has_no_spots() -> None:
    assert not is_spot([0.01], nursery=True)


def test_others_inside_the_zone_hold_for_as_long_as_they_are_there() -> None:
    near = [Presence(4, 100, 200, 24.0), Presence(5, 150, 300, 26.0), Presence(6, 150, 180, None, begun=True)]
    found = [(bound.rule, bound.first, bound.last, bound.report, bound.job) for bound in exclusion(25.0, near)]
    assert found == [("job:4", 100, 200, "", None), ("job:6", 150, 180, "done", 6)]
    assert list(exclusion(0.0, near)) == []
