"""Rules of outlines: what is refused, in which words, and what measures mean."""

import math

import pytest

from plots.geometry import (
    MAX_POSITIONS,
    BadShape,
    miles_between,
    place,
    read_shape,
    swapped,
    zone_at,
)

WEST, SOUTH = -93.0, 42.0


def ring(*corners: tuple[float, float]) -> list[list[float]]:
    """A closed ring from corners in thousandths of a degree east and north of 42 N 93 W."""
    return [[WEST + x / 1_000, SOUTH + y / 1_000] for x, y in (*corners, corners[0])]


def square(x: float = 0, y: float = 0, size: float = 10) -> list[list[float]]:
    return ring((x, y), (x + size, y), (x + size, y + size), (x, y + size))


def polygon(*rings: list[list[float]]) -> dict[str, object]:
    return {"type": "Polygon", "coordinates": list(rings)}


def parts(*rings: list[list[float]]) -> dict[str, object]:
    return {"type": "MultiPolygon", "coordinates": [[each] for each in rings]}


def refused(geometry: object, near: tuple[float, float] | None = None) -> str:
    with pytest.raises(BadShape) as caught:
        read_shape(geometry, near)
    assert str(caught.value) == f"{caught.value.reason} {caught.value.cure}"
    return str(caught.value)


# Measures


def test_a_hole_takes_its_acres_away_and_lengthens_the_edge_but_not_the_fence():
    whole, hole = read_shape(polygon(square())), read_shape(polygon(square(4, 4, 2)))
    holed = read_shape(polygon(square(), square(4, 4, 2)))
    assert holed.acres == pytest.approx(whole.acres - hole.acres, rel=1e-12)
    assert holed.perimeter_ft == whole.perimeter_ft
    assert holed.edge_ft == pytest.approx(whole.perimeter_ft + hole.perimeter_ft, rel=1e-12)


def test_parts_add_up():
    one, other = read_shape(polygon(square())), read_shape(polygon(square(20)))
    both = read_shape(parts(square(), square(20)))
    assert both.acres == pytest.approx(one.acres + other.acres)
    assert both.perimeter_ft == pytest.approx(one.perimeter_ft + other.perimeter_ft)


def test_the_way_round_does_not_matter():
    assert read_shape(polygon(square()[::-1])).acres == pytest.approx(read_shape(polygon(square())).acres, rel=1e-12)


def test_heights_and_repeated_positions_are_dropped():
    corners = square()
    shape = read_shape(polygon([[*corners[0], 250.0], *corners]))
    assert shape.geojson == polygon(corners)


def test_an_outline_comes_back_as_it_went_in():
    assert read_shape(parts(square(), square(20))).geojson == parts(square(), square(20))


def test_the_middle_of_a_square_is_its_middle():
    lat, lon = read_shape(polygon(square())).centre
    assert (lat, lon) == (pytest.approx(42.005), pytest.approx(-92.995))


def test_the_middle_of_a_horseshoe_lies_on_it_all_the_same():
    shape = read_shape(polygon(ring((0, 0), (10, 0), (10, 10), (9, 10), (9, 1), (1, 1), (1, 10), (0, 10))))
    assert shape.contains(*shape.centre)
    assert not shape.contains(42.005, -92.995)


def test_inside_counts_the_edge_and_not_the_hole():
    shape = read_shape(polygon(square(), square(4, 4, 2)))
    assert shape.contains(SOUTH, WEST + 0.005)
    assert shape.contains(SOUTH + 0.001, WEST + 0.001)
    assert not shape.contains(SOUTH + 0.005, WEST + 0.005)
    assert not shape.contains(SOUTH, WEST + 0.011)


def test_a_place_in_words_names_its_half_of_the_globe():
    assert place(40.5, -91.25) == "40.50000 N 91.25000 W"
    assert place(-40.5, 91.25) == "40.50000 S 91.25000 E"


def test_the_time_zone_follows_the_place():
    assert zone_at(41.6, -93.6) == "America/Chicago"
    assert zone_at(40.0, -83.0) == "America/New_York"
    with pytest.raises(ValueError, match="is no place"):
        zone_at(-93.6, 41.6e9)
    with pytest.raises(ValueError, match="is no place"):
        zone_at(float("nan"), 0)


def test_a_degree_of_latitude_is_69_miles():
    assert math.isclose(miles_between(41, -93, 42, -93), 69.0, abs_tol=0.1)


# Refusals


@pytest.mark.parametrize("geometry", [None, 5, "Polygon", {"type": "Point", "coordinates": [0, 0]}, {}])
def test_what_is_no_outline_is_refused(geometry):
    assert "Give a Polygon or a MultiPolygon." in refused(geometry)


@pytest.mark.parametrize("coordinates", [None, [], [[]], "none", [5], {"a": 1}])
def test_coordinates_that_are_no_lists_of_rings_are_refused(coordinates):
    assert "no coordinates as lists of rings" in refused({"type": "Polygon", "coordinates": coordinates})


@pytest.mark.parametrize(
    "position", [[1], ["a", 2], [True, 2], [float("nan"), 2], [float("inf"), 2], [10**400, 2], [None, 2], 7, "12", {}]
)
def test_a_position_that_is_not_two_finite_numbers_is_refused(position):
    assert "is not two numbers" in refused(polygon([position, *square()]))


def test_a_long_foreign_value_is_shortened():
    assert len(refused({"type": "x" * 5_000})) < 150


def test_a_ring_of_three_positions_is_refused():
    assert "A ring has 3 positions." in refused(polygon(square()[:3]))


def test_a_ring_that_is_not_closed_is_refused_with_both_ends():
    words = refused(polygon(square()[:4]))
    assert "starts at 42.00000 N 93.00000 W and ends at 42.01000 N 93.00000 W" in words


def test_a_ring_that_repeats_one_place_has_no_area():
    assert "has no area" in refused(polygon([square()[0]] * 5))


def test_a_ring_that_runs_back_on_itself_is_refused_where_it_turns():
    assert "runs back on itself at 42.00000 N 92.98000 W" in refused(polygon(ring((0, 0), (20, 0), (10, 0), (5, 9))))


def test_a_crossing_is_named_with_its_place():
    bow = ring((0, 0), (10, 10), (10, 0), (0, 10))
    assert "crosses itself near 42.00500 N 92.99500 W" in refused(polygon(bow))


def test_a_touch_is_named_with_its_place():
    pinched = ring((0, 0), (10, 0), (10, 10), (5, 0), (0, 10))
    assert "touches itself near 42.00000 N 92.99500 W" in refused(polygon(pinched))


def test_too_many_positions_are_refused_by_their_number():
    assert "5,004 positions" in refused(polygon([square()[0]] * (MAX_POSITIONS - 1) + square()))


def test_a_hair_has_no_area_to_speak_of():
    assert "no area to speak of" in refused(polygon(ring((0, 0), (1e-3, 0), (1e-3, 1e-4))))


def test_swapped_coordinates_are_seen_by_the_range():
    words = refused(polygon([[y, x] for x, y in square()]))
    assert "swapped" in words
    assert "A latitude of -93 does not exist" in words
    assert "Put longitude first and latitude second." in words


def test_swapped_coordinates_are_seen_where_no_land_is_worked():
    ohio = [[-83 + x - WEST, y - SOUTH + 40] for x, y in square()]
    read_shape(polygon(ohio))
    assert "swapped" in refused(polygon([[y, x] for x, y in ohio]))


def test_swapped_coordinates_are_seen_from_the_property():
    east_and_north = [[x - WEST + 45, y - SOUTH + 20] for x, y in square()]
    words = refused(polygon(east_and_north), near=(45.0, 20.0))
    assert "swapped" in words
    assert "miles from its property; swapped, 0." in words


def test_a_shape_far_from_its_property_either_way_is_not_called_swapped():
    east_and_north = [[x - WEST + 45, y - SOUTH + 20] for x, y in square()]
    for near in ((20.0, 45.0), (-30.0, 140.0)):
        assert read_shape(polygon(east_and_north), near=near).acres > 0


def test_only_a_place_that_can_be_swapped_is_taken_for_swapped():
    assert not swapped(42, -93, (42, -93))
    assert swapped(45, 20, (20, 45))


def test_a_position_off_the_globe_is_refused():
    assert "is not on the globe" in refused(polygon([[500_000.0, 4_600_000.0], *square()]))


def test_a_shape_over_the_date_line_asks_to_be_split():
    assert "more than half the globe" in refused(polygon([[179, 0], [-179, 0], [-179, 1], [179, 1], [179, 0]]))


def test_a_hole_that_leaves_its_outline_is_refused():
    assert "A hole crosses the outline" in refused(polygon(square(), square(8, 8, 4)))
    assert "A hole lies outside the outline" in refused(polygon(square(), square(20, 0, 4)))


def test_a_hole_whose_corners_touch_but_whose_middle_is_outside_is_refused():
    notched = ring((0, 0), (10, 0), (10, 10), (8, 10), (5, 5), (2, 10), (0, 10))
    assert "A hole lies outside" in refused(polygon(notched, ring((2, 10), (5, 5), (8, 10))))


def test_a_hole_may_touch_its_outline():
    assert read_shape(polygon(square(), ring((5, 0), (6, 2), (4, 2)))).acres > 0


def test_holes_that_overlap_are_refused():
    assert "Two holes overlap" in refused(polygon(square(), square(1, 1, 4), square(3, 3, 4)))
    assert "Two holes overlap" in refused(polygon(square(), square(1, 1, 6), square(3, 3, 2)))
    assert "Two holes overlap" in refused(polygon(square(), square(1, 1, 4), square(1, 1, 4)))


def test_parts_that_overlap_are_refused():
    assert "Two parts overlap near" in refused(parts(square(), square(5, 5)))
    assert "Two parts overlap at" in refused(parts(square(), square(4, 4, 2)))
    assert "Two parts overlap at" in refused(parts(square(4, 4, 2), square()))
    assert "Two parts overlap" in refused(parts(square(), square()))


def test_parts_may_share_an_edge_and_lie_in_each_others_holes():
    assert read_shape(parts(square(), square(10))).acres > 0
    island = {"type": "MultiPolygon", "coordinates": [[square(), square(2, 2, 6)], [square(4, 4, 2)]]}
    assert read_shape(island).acres > 0


def test_what_keeps_apart_by_the_last_digit_of_a_double_is_no_touch():
    above_3, above_2 = math.nextafter(3, 4), math.nextafter(2, 3)
    close = [[1, 1], [4, 4], [4, 5], [3, above_3], [2, above_2], [1, 5], [1, 1]]
    assert read_shape(polygon(close)).acres > 0
    on_the_edge = [[1, 1], [4, 4], [4, 5], [3, 3], [2, above_2], [1, 5], [1, 1]]
    assert "touches itself near 3.00000 N 3.00000 E" in refused(polygon(on_the_edge))
