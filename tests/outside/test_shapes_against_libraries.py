"""Areas and lengths against PROJ (pyproj.Geod), validity and inside against GEOS (shapely), zones against zone data."""

import math
import random
from zoneinfo import available_timezones

import pytest
import shapely
import shapely.geometry
from pyproj import Geod

from plots.geometry import BadShape, miles_between, read_shape, zone_at
from plots.units import ACRE_SQ_M, FOOT_M

ELLIPSOID = Geod(ellps="WGS84")


def star(rng: random.Random, lat: float, lon: float, reach: float, corners: int) -> list[list[float]]:
    """A ring without crossings: corners at sorted bearings and random distances up to `reach` degrees."""
    bearings = sorted(rng.uniform(0, 2 * math.pi) for _ in range(corners))
    ring = [
        [lon + (far := rng.uniform(0.6, 1) * reach) * math.cos(bearing), lat + far * math.sin(bearing)]
        for bearing in bearings
    ]
    return [*ring, ring[0]]


def test_area_and_length_agree_with_proj_over_random_polygons_with_holes():
    rng = random.Random(7)
    worst_acres = worst_feet = 0.0
    checked = 0
    while checked < 300:
        lat, lon, reach = rng.uniform(-55, 70), rng.uniform(-170, 170), 10 ** rng.uniform(-4, 0)
        outer, hole = star(rng, lat, lon, reach, rng.randint(12, 30)), star(rng, lat, lon, reach * 0.2, 8)
        if not shapely.geometry.Polygon(outer, [hole]).is_valid:
            continue  # the bearings left a gap of half a turn and the hole looks out
        shape = read_shape({"type": "Polygon", "coordinates": [outer, hole]})
        (outer_m2, outer_m), (hole_m2, hole_m) = (
            (abs(area), length)
            for area, length in (ELLIPSOID.polygon_area_perimeter(*zip(*ring, strict=True)) for ring in (outer, hole))
        )
        acres = (outer_m2 - hole_m2) / ACRE_SQ_M
        worst_acres = max(worst_acres, abs(shape.acres - acres) / acres)
        worst_feet = max(worst_feet, abs(shape.perimeter_ft - outer_m / FOOT_M) * FOOT_M / outer_m)
        worst_feet = max(worst_feet, abs(shape.edge_ft - (outer_m + hole_m) / FOOT_M) * FOOT_M / outer_m)
        checked += 1
    print(f"\n{checked} polygons: largest relative difference of area {worst_acres:.1e}, of length {worst_feet:.1e}")
    assert worst_acres < 1e-6
    assert worst_feet < 1e-9


def test_multipolygons_add_their_parts():
    rng = random.Random(8)
    one, other = star(rng, 41, -91, 0.01, 9), star(rng, 41.1, -91, 0.01, 9)
    shape = read_shape({"type": "MultiPolygon", "coordinates": [[one], [other]]})
    expected = sum(abs(ELLIPSOID.polygon_area_perimeter(*zip(*ring, strict=True))[0]) for ring in (one, other))
    assert math.isclose(shape.acres, expected / ACRE_SQ_M, rel_tol=1e-8)


def test_distance_agrees_with_proj():
    assert math.isclose(miles_between(41, -91, 40, -95) * 1609.344, ELLIPSOID.inv(-91, 41, -95, 40)[2], rel_tol=1e-12)


def test_validity_agrees_with_geos_on_random_rings():
    """Half of the rings have their corners on a small grid, so that they touch, repeat and run back on themselves."""
    rng = random.Random(3)
    seen = {True: 0, False: 0}
    for _ in range(1_500):
        corners, step, grid = rng.randint(3, 9), rng.choice([0.001, 0.01, 1]), rng.random() < 0.5
        ring = [
            (
                -91 + step * (rng.randint(0, 5) if grid else rng.random()),
                40 + step * (rng.randint(0, 5) if grid else rng.random()),
            )
            for _ in range(corners)
        ]
        ring.append(ring[0])
        theirs = shapely.geometry.Polygon(ring)
        expected = theirs.is_valid and theirs.area > 0
        try:
            read_shape({"type": "Polygon", "coordinates": [ring]})
            ours = True
        except BadShape:
            ours = False
        assert ours == expected, (ring, shapely.is_valid_reason(theirs))
        seen[expected] += 1
    print(f"\nvalid {seen[True]}, not valid {seen[False]}")
    assert min(seen.values()) > 200


@pytest.mark.parametrize(("west", "south"), [(-91.0, 40.0), (0.0, 0.0)])
def test_validity_agrees_with_geos_where_a_corner_all_but_touches_an_edge(west, south):
    """The fourth corner lies on the first edge as well as doubles can: on it, short of it or past it by a last digit.

    Near 0, 0 doubles are so fine that a turn reckoned in doubles alone has the wrong sign now and then.
    """
    rng = random.Random(21)
    seen = {True: 0, False: 0}
    for _ in range(1_500):
        (x1, y1), (x2, y2) = ((west + rng.random(), south + 0.1 * rng.random()) for _ in range(2))
        share = rng.random()
        close = (x1 + share * (x2 - x1), y1 + share * (y2 - y1))
        ring = [(x1, y1), (x2, y2), (x2, south + 1), close, (x1, south + 1), (x1, y1)]
        expected = shapely.geometry.Polygon(ring).is_valid
        try:
            read_shape({"type": "Polygon", "coordinates": [ring]})
            ours = True
        except BadShape:
            ours = False
        assert ours == expected, ring
        seen[expected] += 1
    print(f"\nvalid {seen[True]}, not valid {seen[False]}")
    assert min(seen.values()) > 200


def test_a_crossing_is_named_where_geos_finds_it():
    bow = [(-91.0, 40.0), (-90.9, 40.1), (-90.9, 40.0), (-91.0, 40.1), (-91.0, 40.0)]
    reason = shapely.is_valid_reason(shapely.geometry.Polygon(bow))
    assert reason == "Self-intersection[-90.95 40.05]"
    with pytest.raises(BadShape, match=r"crosses itself near 40\.05000 N 90\.95000 W"):
        read_shape({"type": "Polygon", "coordinates": [bow]})


def test_middle_and_inside_agree_with_geos():
    rng = random.Random(11)
    middles = 0
    for _ in range(150):
        outer, hole = star(rng, 41, -91, 0.01, rng.randint(12, 20)), star(rng, 41, -91, 0.002, 6)
        theirs = shapely.geometry.Polygon(outer, [hole])
        if not theirs.is_valid:
            continue
        shape = read_shape({"type": "Polygon", "coordinates": [outer, hole]})
        for _ in range(20):
            lat, lon = 41 + rng.uniform(-0.01, 0.01), -91 + rng.uniform(-0.01, 0.01)
            assert shape.contains(lat, lon) == theirs.covers(shapely.geometry.Point(lon, lat))
        lat, lon = shape.centre
        assert theirs.covers(shapely.geometry.Point(lon, lat))
        middle = theirs.centroid
        if theirs.covers(middle):
            assert math.isclose(lat, middle.y, abs_tol=1e-9)
            assert math.isclose(lon, middle.x, abs_tol=1e-9)
            middles += 1
    assert middles > 0


def test_random_places_lie_in_zones_that_the_zone_data_knows():
    rng = random.Random(5)
    known = available_timezones()
    for _ in range(300):
        assert zone_at(rng.uniform(25, 49), rng.uniform(-124, -67)) in known
