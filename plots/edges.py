"""Edges of rings on the plane: on which side a point lies, where edges meet, what is inside. Exact where it decides.

Doubles rule out what is clear beyond their rounding, fractions decide on the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

Position = tuple[float, float]
"""(longitude, latitude), as GeoJSON has it."""
LatLon = tuple[float, float]
Ring = tuple[Position, ...]
Box = tuple[float, float, float, float]
Floats = NDArray[np.float64]

_ROUNDING = 4e-16  # above the error bound of the two-product orientation test in doubles, (3 + 16 eps) eps


def edges_of(ring: Ring) -> Floats:
    """The ring's edges as rows x1, y1, x2, y2."""
    points = np.array(ring, dtype=np.float64)
    return np.hstack([points[:-1], points[1:]])


def side_of(a: Position, b: Position, c: Position) -> int:
    """Exact sign of the turn a -> b -> c: 1 left, -1 right, 0 on the line."""
    left, right = (b[0] - a[0]) * (c[1] - a[1]), (b[1] - a[1]) * (c[0] - a[0])
    if abs(left - right) > _ROUNDING * (abs(left) + abs(right)):
        return 1 if left > right else -1
    ax, ay, bx, by, cx, cy = (Fraction(number) for number in (*a, *b, *c))
    turn = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    return (turn > 0) - (turn < 0)


def within(a: Position, b: Position, c: Position) -> bool:
    """Whether c, known to be on the line a-b, lies between its ends."""
    return min(a[0], b[0]) <= c[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= c[1] <= max(a[1], b[1])


def _contact(a: Position, b: Position, c: Position, d: Position) -> tuple[bool, Position] | None:
    """How the edges a-b and c-d meet: (crossing inside both?, where), or None if they do not."""
    abc, abd, cda, cdb = side_of(a, b, c), side_of(a, b, d), side_of(c, d, a), side_of(c, d, b)
    if abc * abd < 0 and cda * cdb < 0:
        run = (b[0] - a[0]) * (d[1] - c[1]) - (b[1] - a[1]) * (d[0] - c[0])
        share = ((c[0] - a[0]) * (d[1] - c[1]) - (c[1] - a[1]) * (d[0] - c[0])) / run if run else 0.5
        return True, (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
    for side, p, q, end in ((abc, a, b, c), (abd, a, b, d), (cda, c, d, a), (cdb, c, d, b)):
        if side == 0 and within(p, q, end):
            return False, end
    return None


def meetings(ones: Floats, others: Floats | None = None) -> Iterator[tuple[int, int, bool, Position]]:
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


def where(point: Position, edges: Floats) -> int:
    """1 inside the ring, 0 on its edge, -1 outside."""
    x, y = point
    x1, y1, x2, y2 = edges.T
    turn, doubt = _turns(x1, y1, x2, y2, x, y)
    for index in np.flatnonzero(abs(turn) <= doubt).tolist():
        a, b = (float(x1[index]), float(y1[index])), (float(x2[index]), float(y2[index]))
        turn[index] = side_of(a, b, point)
        if turn[index] == 0 and within(a, b, point):
            return 0
    straddles = (y1 > y) != (y2 > y)
    return 1 if np.count_nonzero(straddles & ((turn > 0) == (y2 > y1))) % 2 else -1


def box_of(edges: Floats) -> Box:
    west, south = edges[:, :2].min(axis=0)
    east, north = edges[:, :2].max(axis=0)
    return float(west), float(south), float(east), float(north)


def boxes_meet(one: Box, other: Box) -> bool:
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


def inner_point(polygon: Sequence[Ring]) -> LatLon:
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
