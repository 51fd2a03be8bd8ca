"""Shapes of land: whether an outline holds, how large it is, where its middle lies, which time zone it is in.

Outlines are GeoJSON geometries (RFC 7946: longitude before latitude, WGS 84, straight edges between positions).
Areas and lengths are geodesic on the WGS 84 ellipsoid; validity is judged on the plane of longitude and latitude.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
import tzfpy
from geographiclib.geodesic import Geodesic
from numpy.typing import NDArray

M2_PER_ACRE = 4046.8564224
"""The international acre: 43,560 square feet of 0.3048 m."""
M_PER_FT = 0.3048
M_PER_MILE = 1609.344
MAX_POSITIONS = 5_000
MIN_ACRES = 0.0001
"""About four square feet; less is a slip of the pen."""
SWAP_MILES = 60.0
"""A shape that swapping brings this near to its property, and that lies farther as it stands, was swapped."""

Position = tuple[float, float]
"""(longitude, latitude), as GeoJSON has it."""
LatLon = tuple[float, float]
Ring = tuple[Position, ...]
Box = tuple[float, float, float, float]
Floats = NDArray[np.float64]

_ROUNDING = 4e-16  # above the error bound of the two-product orientation test in doubles, (3 + 16 eps) eps


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
        return square_m / M2_PER_ACRE

    @property
    def perimeter_ft(self) -> float:
        """Geodesic length of the outer rings in feet; what a fence around it is long."""
        return sum(_measure(polygon[0])[0] for polygon in self.polygons) / M_PER_FT

    @property
    def edge_ft(self) -> float:
        """Geodesic length of all rings in feet, the holes' edges with them."""
        return sum(_measure(ring)[0] for polygon in self.polygons for ring in polygon) / M_PER_FT

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
        return (lat, lon) if self.contains(lat, lon) else _inner_point(self.polygons[0])

    def contains(self, lat: float, lon: float) -> bool:
        """Whether a point lies inside or on the edge; inside a hole is outside."""
        for outer, *holes in self.polygons:
            if _where((lon, lat), _edges(outer)) >= 0 and all(_where((lon, lat), _edges(hole)) <= 0 for hole in holes):
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


def _edges(ring: Ring) -> Floats:
    """The ring's edges as rows x1, y1, x2, y2."""
    points = np.array(ring, dtype=np.float64)
    return np.hstack([points[:-1], points[1:]])


def _side(a: Position, b: Position, c: Position) -> int:
    """Exact sign of the turn a -> b -> c: 1 left, -1 right, 0 on the line."""
    left, right = (b[0] - a[0]) * (c[1] - a[1]), (b[1] - a[1]) * (c[0] - a[0])
    if abs(left - right) > _ROUNDING * (abs(left) + abs(right)):
        return 1 if left > right else -1
    ax, ay, bx, by, cx, cy = (Fraction(number) for number in (*a, *b, *c))
    turn = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    return (turn > 0) - (turn < 0)


def _within(a: Position, b: Position, c: Position) -> bool:
    """Whether c, known to be on the line a-b, lies between its ends."""
    return min(a[0], b[0]) <= c[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= c[1] <= max(a[1], b[1])


def _contact(a: Position, b: Position, c: Position, d: Position) -> tuple[bool, Position] | None:
    """How the edges a-b and c-d meet: (crossing inside both?, where), or None if they do not."""
    abc, abd, cda, cdb = _side(a, b, c), _side(a, b, d), _side(c, d, a), _side(c, d, b)
    if abc * abd < 0 and cda * cdb < 0:
        run = (b[0] - a[0]) * (d[1] - c[1]) - (b[1] - a[1]) * (d[0] - c[0])
        share = ((c[0] - a[0]) * (d[1] - c[1]) - (c[1] - a[1]) * (d[0] - c[0])) / run if run else 0.5
        return True, (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
    for side, p, q, end in ((abc, a, b, c), (abd, a, b, d), (cda, c, d, a), (cdb, c, d, b)):
        if side == 0 and _within(p, q, end):
            return False, end
    return None


def _meeting(ones: Floats, others: Floats | None = None) -> Iterator[tuple[int, int, bool, Position]]:
    """Pairs of edges that meet: (index, index, crossing?, where); within one set each pair once.

    Doubles rule out pairs that clearly keep apart, exact arithmetic decides on the rest.
    """
    against = ones if others is None else others
    low_x, high_x = np.minimum(against[:, 0], against[:, 2]), np.maximum(against[:, 0], against[:, 2])
    low_y, high_y = np.minimum(against[:, 1], against[:, 3]), np.maximum(against[:, 1], against[:, 3])
    for i, (ax, ay, bx, by) in enumerate(ones):
        first = i + 1 if others is None else 0
        box = (
            (low_x[first:] <= max(ax, bx))
            & (high_x[first:] >= min(ax, bx))
            & (low_y[first:] <= max(ay, by))
            & (high_y[first:] >= min(ay, by))
        )
        picked = np.flatnonzero(box) + first
        cx, cy, dx, dy = against[picked].T
        apart = _same_side(*_turns(ax, ay, bx, by, cx, cy), *_turns(ax, ay, bx, by, dx, dy))
        apart |= _same_side(*_turns(cx, cy, dx, dy, ax, ay), *_turns(cx, cy, dx, dy, bx, by))
        for j in picked[~apart].tolist():
            c1, c2, d1, d2 = against[j].tolist()
            met = _contact((float(ax), float(ay)), (float(bx), float(by)), (c1, c2), (d1, d2))
            if met is not None:
                yield i, j, *met


def _turns(ax: Any, ay: Any, bx: Any, by: Any, cx: Any, cy: Any) -> tuple[Any, Any]:
    """Twice the signed areas a-b-c and how far rounding may have moved them."""
    left, right = (bx - ax) * (cy - ay), (by - ay) * (cx - ax)
    return left - right, _ROUNDING * (abs(left) + abs(right))


def _same_side(one: Any, one_off: Any, other: Any, other_off: Any) -> Any:
    """Where both turns go the same way beyond any doubt."""
    return ((one > one_off) & (other > other_off)) | ((one < -one_off) & (other < -other_off))


def _check_simple(ring: Ring) -> None:
    """BadShape if the ring touches or crosses itself."""
    for before, corner, after in zip((ring[-2], *ring), ring, ring[1:], strict=False):
        back = (before[0] - corner[0]) * (after[0] - corner[0]) + (before[1] - corner[1]) * (after[1] - corner[1])
        if back > 0 and _side(before, corner, after) == 0:
            raise BadShape(
                f"The outline runs back on itself at {place(corner[1], corner[0])}.", "Take that corner out."
            )
    edges = len(ring) - 1
    for i, j, crossing, (x, y) in _meeting(_edges(ring)):
        if j - i in (1, edges - 1):
            continue  # neighbours share their corner, nothing more: running back was looked for above
        verb = "crosses" if crossing else "touches"
        raise BadShape(f"The outline {verb} itself near {place(y, x)}.", "Draw it again without the crossing there.")


def _where(point: Position, edges: Floats) -> int:
    """1 inside the ring, 0 on its edge, -1 outside."""
    x, y = point
    x1, y1, x2, y2 = edges.T
    turn, doubt = _turns(x1, y1, x2, y2, x, y)
    for index in np.flatnonzero(abs(turn) <= doubt).tolist():
        a, b = (float(x1[index]), float(y1[index])), (float(x2[index]), float(y2[index]))
        turn[index] = _side(a, b, point)
        if turn[index] == 0 and _within(a, b, point):
            return 0
    straddles = (y1 > y) != (y2 > y)
    return 1 if np.count_nonzero(straddles & ((turn > 0) == (y2 > y1))) % 2 else -1


def _check_holes(polygon: Sequence[Ring]) -> None:
    """BadShape if a hole leaves the outline or holes overlap."""
    outer, *holes = polygon
    edges = _edges(outer)
    for hole in holes:
        for _, _, crossing, (x, y) in _meeting(edges, _edges(hole)):
            if crossing:
                raise BadShape(f"A hole crosses the outline near {place(y, x)}.", "Draw the hole inside.")
        for x, y in (*hole, _inner_point([hole])[::-1]):
            if _where((x, y), edges) < 0:
                raise BadShape(f"A hole lies outside the outline at {place(y, x)}.", "Draw the hole inside.")
    _check_apart(holes, [(hole,) for hole in holes], "Two holes")


def _check_apart(rings: Sequence[Ring], polygons: Sequence[Sequence[Ring]], what: str = "Two parts") -> None:
    """BadShape if two of the areas overlap; `polygons[i]` is the area of `rings[i]` with its holes."""
    edges = [_edges(ring) for ring in rings]
    boxes = [_box(each) for each in edges]
    for i in range(len(rings)):
        for j in range(i):
            if not _boxes_meet(boxes[i], boxes[j]):
                continue
            for _, _, crossing, (x, y) in _meeting(edges[i], edges[j]):
                if crossing:
                    raise BadShape(f"{what} overlap near {place(y, x)}.", "Draw them apart, or as one.")
            for one, other in ((i, j), (j, i)):
                holes = [_edges(hole) for hole in polygons[other][1:]]
                for x, y in (*rings[one], _inner_point(polygons[one])[::-1]):
                    if _where((x, y), edges[other]) > 0 and not any(_where((x, y), hole) >= 0 for hole in holes):
                        raise BadShape(f"{what} overlap at {place(y, x)}.", "Draw them apart, or as one.")


def _box(edges: Floats) -> Box:
    west, south = edges[:, :2].min(axis=0)
    east, north = edges[:, :2].max(axis=0)
    return float(west), float(south), float(east), float(north)


def _boxes_meet(one: Box, other: Box) -> bool:
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


def _inner_point(polygon: Sequence[Ring]) -> LatLon:
    """(latitude, longitude) of a point inside: the middle of the widest stretch of a parallel without corners."""
    levels = sorted({y for ring in polygon for _, y in ring})
    south, north = max(pairwise(levels), key=lambda band: band[1] - band[0])
    lat = (south + north) / 2
    crossings = sorted(
        x1 + (lat - y1) / (y2 - y1) * (x2 - x1)
        for ring in polygon
        for (x1, y1), (x2, y2) in pairwise(ring)
        if (y1 > lat) != (y2 > lat)
    )
    west, east = max(zip(crossings[::2], crossings[1::2], strict=True), key=lambda run: run[1] - run[0])
    return lat, (west + east) / 2


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
