"""Who stands too near, and what is small enough for the short form."""

import math

import pytest

from jobs.law.zones import Place, Presence, exclusion, exclusion_ft, feet_apart, inside, is_spot


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


def square(west: float, south: float, side: float) -> list[list[list[float]]]:
    east, north = west + side, south + side
    return [[[west, south], [east, south], [east, north], [west, north], [west, south]]]


@pytest.mark.parametrize("first", [True, False], ids=["the far part first", "the far part last"])
def test_a_part_that_lies_wholly_inside_another_place_is_no_feet_away(first: bool) -> None:
    """Of two parts one is a mile off and one stands in the middle of a field, far from its edges."""
    far, within = square(-90.98, 40.0, 0.001), square(-91.005, 40.005, 0.0005)
    parts = [far, within] if first else [within, far]
    field = Place({"type": "Polygon", "coordinates": square(-91.01, 40.0, 0.01)}, (40.005, -91.005))
    yards = Place({"type": "MultiPolygon", "coordinates": parts}, (40.005, -91.005))
    assert feet_apart(field, yards) == feet_apart(yards, field) == 0.0


def test_a_place_in_the_hole_of_another_keeps_its_distance_from_the_edge() -> None:
    outer, hole, yard = (square(-91.01 + inset, 40.0 + inset, 0.01 - 2 * inset)[0] for inset in (0.0, 0.002, 0.004))
    ring = Place({"type": "Polygon", "coordinates": [outer, hole]}, (40.005, -91.005))
    here = Place({"type": "MultiPolygon", "coordinates": [[yard]]}, (40.005, -91.005))
    apart = feet_apart(ring, here)
    assert apart is not None
    assert apart == feet_apart(here, ring)
    assert apart == pytest.approx(560, abs=10)
