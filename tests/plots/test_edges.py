"""Where edges meet and what lies inside is decided exactly, also where doubles round the wrong way."""

from fractions import Fraction

import pytest

from plots.edges import boxes_meet, edges_of, inner_point, meetings, side_of, where, within

SQUARE = ((0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0), (0.0, 0.0))


@pytest.mark.parametrize("steps", range(-3, 4))
def test_the_side_of_a_point_a_rounding_away_from_a_line_is_exact(steps: int) -> None:
    """Points a few units in the last place off the diagonal; the expected sign by fractions alone."""
    a, b, c = (0.1, 0.1), (0.3, 0.3), (0.2, 0.2 + steps * 2**-55)
    turn = (Fraction(b[0]) - Fraction(a[0])) * (Fraction(c[1]) - Fraction(a[1])) - (Fraction(b[1]) - Fraction(a[1])) * (
        Fraction(c[0]) - Fraction(a[0])
    )
    assert side_of(a, b, c) == (turn > 0) - (turn < 0)


@pytest.mark.parametrize(
    ("point", "expected"), [((2.0, 2.0), 1), ((4.0, 2.0), 0), ((0.0, 0.0), 0), ((5.0, 4.0), -1), ((-1.0, 0.0), -1)]
)
def test_a_point_is_inside_on_the_edge_or_outside(point: tuple[float, float], expected: int) -> None:
    assert where(point, edges_of(SQUARE)) == expected


def test_crossing_edges_are_told_from_touching_ones() -> None:
    flat = edges_of(((0.0, 0.0), (4.0, 0.0)))
    across = edges_of(((2.0, -1.0), (2.0, 1.0)))
    onto = edges_of(((3.0, 0.0), (3.0, 2.0)))
    assert list(meetings(flat, across)) == [(0, 0, True, (2.0, 0.0))]
    assert list(meetings(flat, onto)) == [(0, 0, False, (3.0, 0.0))]
    assert list(meetings(across, onto)) == []
    assert within((0.0, 0.0), (4.0, 0.0), (3.0, 0.0))
    assert not within((0.0, 0.0), (4.0, 0.0), (5.0, 0.0))


def test_the_inner_point_of_a_ring_with_a_hole_lies_between_them() -> None:
    hole = ((1.0, 1.0), (3.0, 1.0), (3.0, 3.0), (1.0, 3.0), (1.0, 1.0))
    lat, lon = inner_point([SQUARE, hole])
    assert where((lon, lat), edges_of(SQUARE)) == 1
    assert where((lon, lat), edges_of(hole)) == -1


def test_boxes_that_touch_meet() -> None:
    assert boxes_meet((0, 0, 1, 1), (1, 1, 2, 2))
    assert not boxes_meet((0, 0, 1, 1), (1.1, 0, 2, 1))
