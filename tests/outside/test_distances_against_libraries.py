"""Distances between outlines beside an independent geometry library, over random polygons some hundred feet apart."""

from __future__ import annotations

import math
import random
from typing import Any

import pytest
from pyproj import CRS, Transformer
from shapely import Polygon
from shapely.geometry import shape
from shapely.ops import transform

from jobs.law.zones import Place, feet_apart

FOOT = 0.3048


def ring(lat: float, lon: float, rng: random.Random) -> dict[str, Any]:
    """A star of 5 to 12 corners, 60 to 300 ft about its middle."""
    corners = rng.randint(5, 12)
    points = []
    for at in range(corners):
        reach = rng.uniform(60, 300) * FOOT
        turn = 2 * math.pi * at / corners
        points.append(
            [
                lon + reach * math.cos(turn) / (111_320 * math.cos(math.radians(lat))),
                lat + reach * math.sin(turn) / 110_900,
            ]
        )
    return {"type": "Polygon", "coordinates": [[*points, points[0]]]}


def theirs(one: dict[str, Any], other: dict[str, Any], lat: float, lon: float) -> float:
    """Feet on a plane that keeps distances from the middle (azimuthal equidistant, WGS 84)."""
    plane = CRS.from_proj4(f"+proj=aeqd +lat_0={lat} +lon_0={lon} +datum=WGS84 +units=m")
    to_plane = Transformer.from_crs("EPSG:4326", plane, always_xy=True).transform
    return float(transform(to_plane, shape(one)).distance(transform(to_plane, shape(other)))) / FOOT


def test_feet_between_outlines_agree_with_geos_and_proj() -> None:
    rng, worst, touching = random.Random(20_260_511), 0.0, 0
    for _ in range(300):
        lat, lon = rng.uniform(25, 49), rng.uniform(-124, -67)
        one = ring(lat, lon, rng)
        other = ring(lat + rng.uniform(-0.004, 0.004), lon + rng.uniform(-0.004, 0.004), rng)
        expected = theirs(one, other, lat, lon)
        found = feet_apart(Place(one, (lat, lon)), Place(other, (lat, lon)))
        assert found is not None
        touching += expected == 0.0
        worst = max(worst, abs(found - expected))
    print(f"feet between outlines: largest difference {worst:.3f}; {touching} of 300 touch or overlap")
    assert worst < 0.1
    assert 10 < touching < 290


def test_a_place_inside_another_and_one_in_its_hole_are_told_apart() -> None:
    outer = [[0.0, 0.0], [0.01, 0.0], [0.01, 0.01], [0.0, 0.01], [0.0, 0.0]]
    hole = [[0.002, 0.002], [0.008, 0.002], [0.008, 0.008], [0.002, 0.008], [0.002, 0.002]]
    small = [[0.0045, 0.0045], [0.0055, 0.0045], [0.0055, 0.0055], [0.0045, 0.0055], [0.0045, 0.0045]]
    whole, holed, inside = ({"type": "Polygon", "coordinates": rings} for rings in ([outer], [outer, hole], [small]))
    here = (0.005, 0.005)
    assert feet_apart(Place(whole, here), Place(inside, here)) == 0.0
    apart = feet_apart(Place(holed, here), Place(inside, here))
    assert apart == pytest.approx(theirs(holed, inside, *here), abs=0.5)
    assert Polygon(outer, [hole]).disjoint(Polygon(small))


def test_without_outlines_only_points_a_mile_apart_are_known_to_be_apart() -> None:
    home = Place(None, (40.0, -91.0))
    assert feet_apart(home, Place(None, (40.0144, -91.0))) is None
    assert feet_apart(home, Place(None, (40.0146, -91.0))) == math.inf
