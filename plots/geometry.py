"""Shapes of land: whether an outline holds, how large it is, where its middle lies, which time zone it is in.

Outlines are GeoJSON geometries (RFC 7946: longitude before latitude, WGS 84, straight edges between positions).
Areas and lengths are geodesic on the WGS 84 ellipsoid; validity is judged on the plane of longitude and latitude.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import tzfpy
from geographiclib.geodesic import Geodesic

from plots.edges import (
    LatLon,
    Position,
    Ring,
    box_of,
    boxes_meet,
    edges_of,
    inner_point,
    meetings,
    side_of,
    where,
)
from plots.units import ACRE_SQ_M, FOOT_M

M_PER_MILE = 1609.344
MAX_POSITIONS = 5_000
MIN_ACRES = 0.0001
"""About four square feet; less is a slip of the pen."""
SWAP_MILES = 60.0
"""A shape that swapping brings this near to its property, and that lies farther as it stands, was swapped."""


class BadShape(ValueError):
    """A shape that cannot be an outline; the message says what and where, `cure` what to do."""

    def __init__(self, reason: str, cure: str) -> None:
        super().__init__(f"{reason} {cure}")
        self.reason = reason
        self.cure = cure


def place(lat: float, lon: float) -> str:
    """A place in words: "40.12345 N 91.04321 W"."""
    return f"{abs(lat):.5f} {'N' if lat >= 0 else 'S'} {abs(lon):.5f} {'E' if lon >= 0 else 'W'}"


def zone_at(lat: float, lon: float) -> str:
    """Name of the time zone at a place, such as "America/Chicago"; ValueError if the place is not on the globe."""
    if not (abs(lat) <= 90 and abs(lon) <= 180):
        raise ValueError(
            f"{lat:g}, {lon:g} is no place. Latitude lies between -90 and 90, longitude between -180 and 180."
        )
    return str(tzfpy.get_tz(lon, lat))


def miles_between(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Geodesic distance in statute miles."""
    return float(Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2, Geodesic.DISTANCE)["s12"]) / M_PER_MILE


def swapped(lat: float, lon: float, near: LatLon) -> bool:
    """Whether changing places brings the point near a property that it lies far from as it stands."""
    return abs(lon) <= 90 and miles_between(lon, lat, *near) <= SWAP_MILES < miles_between(lat, lon, *near)


@dataclass(frozen=True, slots=True)
class Shape:
    """One or more polygons, each an outer ring and its holes; positions are (longitude, latitude).

    Made by `read_shape`, which has checked it: rings are closed, do not touch themselves, holes lie inside.
    """

    polygons: tuple[tuple[Ring, ...], ...]

    @property
    def acres(self) -> float:
        """Geodesic area less the holes, in international acres."""
        square_m = 0.0
        for outer, *holes in self.polygons:
            square_m += _measure(outer)[1] - sum(_measure(hole)[1] for hole in holes)
        return square_m / ACRE_SQ_M

    @property
    def perimeter_ft(self) -> float:
        """Geodesic length of the outer rings in feet; what a fence around it is long."""
        return sum(_measure(polygon[0])[0] for polygon in self.polygons) / FOOT_M

    @property
    def edge_ft(self) -> float:
        """Geodesic length of all rings in feet, the holes' edges with them."""
        return sum(_measure(ring)[0] for polygon in self.polygons for ring in polygon) / FOOT_M

    @property
    def centre(self) -> LatLon:
        """(latitude, longitude) of the middle: the centre of area if it lies inside, else a point that does."""
        lon0, lat0 = self.polygons[0][0][0]
        weight = moment_x = moment_y = 0.0
        for polygon in self.polygons:
            for index, ring in enumerate(polygon):
                area, x, y = _moments(ring, lon0, lat0)
                sign = math.copysign(1.0, area) * (-1 if index else 1)
                weight, moment_x, moment_y = weight + sign * area, moment_x + sign * x, moment_y + sign * y
        lon, lat = lon0 + moment_x / weight, lat0 + moment_y / weight
        return (lat, lon) if self.contains(lat, lon) else inner_point(self.polygons[0])

    def contains(self, lat: float, lon: float) -> bool:
        """Whether a point lies inside or on the edge; inside a hole is outside."""
        for outer, *holes in self.polygons:
            if where((lon, lat), edges_of(outer)) >= 0 and all(
                where((lon, lat), edges_of(hole)) <= 0 for hole in holes
            ):
                return True
        return False

    @property
    def geojson(self) -> dict[str, Any]:
        """The shape as a GeoJSON geometry."""
        coordinates = [[[list(position) for position in ring] for ring in polygon] for polygon in self.polygons]
        if len(coordinates) == 1:
            return {"type": "Polygon", "coordinates": coordinates[0]}
        return {"type": "MultiPolygon", "coordinates": coordinates}


def read_shape(geometry: Any, near: LatLon | None = None) -> Shape:
    """Read and check a GeoJSON Polygon or MultiPolygon; raises BadShape with what is wrong, where, and what to do.

    Refused: another type; positions that are no finite numbers, out of range, or with latitude and longitude swapped
    (recognised by the range, by worked land not lying there, or, given `near` as (latitude, longitude) of the
    property, when swapping brings the shape near it); more than 5,000 positions; rings that are not closed, have
    fewer than 4 positions, touch or cross themselves or have no area; holes that leave their outline or overlap;
    parts that overlap; less than 0.0001 acre in all. Parts and holes may touch. Heights and repeated positions are
    dropped.
    """
    if not isinstance(geometry, Mapping) or geometry.get("type") not in ("Polygon", "MultiPolygon"):
        kind = geometry.get("type") if isinstance(geometry, Mapping) else geometry
        raise BadShape(f"The shape is {_shown(kind)}, not an outline.", "Give a Polygon or a MultiPolygon.")
    coordinates = geometry.get("coordinates")
    raw: Any = [coordinates] if geometry["type"] == "Polygon" else coordinates
    if not _listed(raw) or not all(_listed(polygon) and all(_listed(ring) for ring in polygon) for polygon in raw):
        raise BadShape("The shape has no coordinates as lists of rings.", "Draw the outline again and export it.")
    count = sum(len(ring) for polygon in raw for ring in polygon)
    if count > MAX_POSITIONS:
        raise BadShape(
            f"The shape has {count:,} positions, more than {MAX_POSITIONS:,}.",
            "Simplify it, a point every few feet is plenty.",
        )
    numbers = [[[_numbers(position) for position in ring] for ring in polygon] for polygon in raw]
    _check_places([position for polygon in numbers for ring in polygon for position in ring], near)
    polygons = tuple(tuple(_ring(ring) for ring in polygon) for polygon in numbers)
    for polygon in polygons:
        _check_holes(polygon)
    _check_apart([polygon[0] for polygon in polygons], polygons)
    shape = Shape(polygons)
    if shape.acres < MIN_ACRES:
        y, x = polygons[0][0][0][::-1]
        raise BadShape(f"The shape at {place(y, x)} has no area to speak of.", "Draw the whole outline.")
    return shape


def _listed(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str) and len(value) > 0


def _shown(value: Any) -> str:
    """A foreign value for a sentence, shortened."""
    text = "without a type" if value is None else str(value)
    return text if len(text) <= 40 else text[:40] + "..."


def _numbers(position: Any) -> Position:
    """(longitude, latitude) of a raw position; BadShape unless it begins with two finite numbers."""
    good = _listed(position) and len(position) >= 2
    for value in position[:2] if good else ():
        number = isinstance(value, int | float) and not isinstance(value, bool)
        good = good and number and abs(value) < 1e9  # also false for NaN, and safe for whole numbers past a float
    if not good:
        raise BadShape(
            f"The position {_shown(position)} is not two numbers.", "Give longitude and latitude in degrees."
        )
    return float(position[0]), float(position[1])


def _check_places(positions: Sequence[Position], near: LatLon | None) -> None:
    """BadShape if a position is off the globe, or latitude and longitude changed places."""
    swap = "Latitude and longitude are swapped."
    cure = "Put longitude first and latitude second."
    off = next(((x, y) for x, y in positions if abs(y) > 90 or abs(x) > 180), None)
    if off is not None:
        if all(abs(x) <= 90 and abs(y) <= 180 for x, y in positions):
            raise BadShape(
                f"{swap} A latitude of {off[1]:g} does not exist; swapped, the shape lies on the globe.", cure
            )
        raise BadShape(
            f"The position {off[0]:g}, {off[1]:g} is not on the globe.",
            "Longitude lies between -180 and 180, latitude between -90 and 90; export in WGS 84 degrees.",
        )
    if max(x for x, _ in positions) - min(x for x, _ in positions) > 180:
        raise BadShape("The shape spans more than half the globe.", "Split it where longitude jumps from 180 to -180.")
    x, y = positions[0]
    if near is not None and swapped(y, x, near):
        apart, other = miles_between(y, x, *near), miles_between(x, y, *near)
        raise BadShape(f"{swap} The shape lies {apart:,.0f} miles from its property; swapped, {other:,.0f}.", cure)
    # No land is worked south of 56 S or north of 75 N (common practice), so a shape there was swapped.
    if all(not -56 <= y <= 75 and -56 <= x <= 75 for x, y in positions):
        raise BadShape(f"{swap} The shape lies at {place(y, x)}, where no land is worked.", cure)


def _ring(positions: Sequence[Position]) -> Ring:
    """A checked ring without repeated positions; BadShape with the place of what is wrong."""
    if len(positions) < 4:
        raise BadShape(
            f"A ring has {len(positions)} positions.", "A ring needs at least 4, and its last repeats its first."
        )
    (x, y), last = positions[0], positions[-1]
    if (x, y) != last:
        raise BadShape(
            f"A ring is not closed: it starts at {place(y, x)} and ends at {place(last[1], last[0])}.",
            "Repeat the first position at the end.",
        )
    ring = (positions[0], *(after for before, after in pairwise(positions) if after != before))
    if len(ring) < 4:
        raise BadShape(f"A ring at {place(y, x)} has no area.", "Draw at least three corners.")
    _check_simple(ring)
    return ring


def _check_simple(ring: Ring) -> None:
    """BadShape if the ring touches or crosses itself."""
    for before, corner, after in zip((ring[-2], *ring), ring, ring[1:], strict=False):
        back = (before[0] - corner[0]) * (after[0] - corner[0]) + (before[1] - corner[1]) * (after[1] - corner[1])
        if back > 0 and side_of(before, corner, after) == 0:
            raise BadShape(
                f"The outline runs back on itself at {place(corner[1], corner[0])}.", "Take that corner out."
            )
    edges = len(ring) - 1
    for i, j, crossing, (x, y) in meetings(edges_of(ring)):
        if j - i in (1, edges - 1):
            continue  # neighbours share their corner, nothing more: running back was looked for above
        verb = "crosses" if crossing else "touches"
        raise BadShape(f"The outline {verb} itself near {place(y, x)}.", "Draw it again without the crossing there.")


def _check_holes(polygon: Sequence[Ring]) -> None:
    """BadShape if a hole leaves the outline or holes overlap."""
    outer, *holes = polygon
    edges = edges_of(outer)
    for hole in holes:
        for _, _, crossing, (x, y) in meetings(edges, edges_of(hole)):
            if crossing:
                raise BadShape(f"A hole crosses the outline near {place(y, x)}.", "Draw the hole inside.")
        for x, y in (*hole, inner_point([hole])[::-1]):
            if where((x, y), edges) < 0:
                raise BadShape(f"A hole lies outside the outline at {place(y, x)}.", "Draw the hole inside.")
    _check_apart(holes, [(hole,) for hole in holes], "Two holes")


def _check_apart(rings: Sequence[Ring], polygons: Sequence[Sequence[Ring]], what: str = "Two parts") -> None:
    """BadShape if two of the areas overlap; `polygons[i]` is the area of `rings[i]` with its holes."""
    edges = [edges_of(ring) for ring in rings]
    boxes = [box_of(each) for each in edges]
    for i in range(len(rings)):
        for j in range(i):
            if not boxes_meet(boxes[i], boxes[j]):
                continue
            for _, _, crossing, (x, y) in meetings(edges[i], edges[j]):
                if crossing:
                    raise BadShape(f"{what} overlap near {place(y, x)}.", "Draw them apart, or as one.")
            for one, other in ((i, j), (j, i)):
                holes = [edges_of(hole) for hole in polygons[other][1:]]
                for x, y in (*rings[one], inner_point(polygons[one])[::-1]):
                    if where((x, y), edges[other]) > 0 and not any(where((x, y), hole) >= 0 for hole in holes):
                        raise BadShape(f"{what} overlap at {place(y, x)}.", "Draw them apart, or as one.")


def _moments(ring: Ring, lon0: float, lat0: float) -> tuple[float, float, float]:
    """Twice the signed area and the first moments about (lon0, lat0), on the plane of degrees."""
    area = x = y = 0.0
    for (x1, y1), (x2, y2) in pairwise([(lon - lon0, lat - lat0) for lon, lat in ring]):
        cross = x1 * y2 - x2 * y1
        area, x, y = area + cross, x + (x1 + x2) * cross / 3, y + (y1 + y2) * cross / 3
    return area, x, y


@lru_cache(maxsize=32)  # acres and fence of one shape are asked for one after the other
def _measure(ring: Ring) -> tuple[float, float]:
    """Geodesic length in metres and area in square metres of a ring, whichever way round it runs."""
    polygon = Geodesic.WGS84.Polygon()
    for lon, lat in ring[:-1]:
        polygon.AddPoint(lat, lon)
    _, length, area = polygon.Compute(False, True)
    return length, abs(area)
