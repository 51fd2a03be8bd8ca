"""Distances and areas that rules of spraying turn on.

Sources: 40 CFR 170; EPA's comparison of the application exclusion zone (2019) and the final rule of 4 October 2024;
7 CFR 110.3; Minnesota Department of Agriculture on spot applications. The droplets of the narrow zone: from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from jobs.facts import Bound
from jobs.graph.data import FAR

ZONE_SOURCE = "epa-exclusion-zone-2024"
WIDE_FT, NARROW_FT = 100.0, 25.0
FINE_VMD_MICRONS = 294.0
LOW_IN = 12.0
SPOT_UNDER_ACRES = 0.1

FAR_CARRYING = frozenset({"aerial", "air_blast", "fumigant", "smoke", "mist", "fog"})
GROUND = frozenset({"boom", "backpack", "hand"})


def exclusion_ft(method: str, *, vmd_microns: float | None, height_in: float | None) -> float:
    """The radius round the equipment in which nobody but handlers may be while it sprays, beyond the border too.

    What is not known counts as the wider: an unknown method, droplet or height is no leave."""
    if method not in GROUND or vmd_microns is None or vmd_microns < FINE_VMD_MICRONS:
        return WIDE_FT
    return NARROW_FT if height_in is None or height_in > LOW_IN else 0.0


def inside(distances_ft: Mapping[str, float | None], radius_ft: float) -> list[str]:
    """Who stands inside the zone, or where nobody knows how far away; sorted. At the radius itself one is outside."""
    if radius_ft <= 0:
        return []
    return sorted(who for who, feet in distances_ft.items() if feet is None or math.isnan(feet) or feet < radius_ft)


def is_spot(acres_of_day: Iterable[float | None], *, nursery: bool = False) -> bool:
    """Whether the sprays of one day together are a spot application: under a tenth of an acre, in no nursery.

    0.1 itself is none, and neither is an area that nobody measured."""
    areas: Sequence[float | None] = list(acres_of_day)
    if nursery or not areas:
        return False
    known = [area for area in areas if area is not None]
    return len(known) == len(areas) and math.fsum(known) < SPOT_UNDER_ACRES


@dataclass(frozen=True, slots=True)
class Place:
    """Where something lies: GeoJSON of an outline, or else of the land around it, or None; and a point (lat, lon)."""

    outline: Any
    point: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Presence:
    """Others at work on a job in [first, last); `begun` where they reported it. `feet`: how far away, None: unknown."""

    job: int
    first: int
    last: int
    feet: float | None
    begun: bool = False


def exclusion(radius_ft: float, present: Iterable[Presence]) -> Iterator[Bound]:
    """While others are inside the zone nobody sprays, and who sprays stops until they have left."""
    for one in present:
        if inside({"": one.feet}, radius_ft):
            yield Bound(
                "exclusion_zone", f"job:{one.job}", one.first, min(one.last, FAR), ZONE_SOURCE,
                report="done" if one.begun else "", job=one.job if one.begun else None,
                inputs={
                    "other": one.job, "radius_ft": radius_ft, "until": one.last, "begun": one.begun,
                    "feet": None if one.feet is None else round(one.feet, 1),
                },
            )  # fmt: skip


APART_FT = 5280.0
"""Two places of which one has no outline are taken for apart where their points are farther than this from each other
(a setting of ours); nearer, nobody knows."""

Floats = NDArray[np.float64]


def feet_apart(one: Place, other: Place) -> float | None:
    """Feet between two places, 0 where they touch or overlap; None where no outline tells and they may be near."""
    rings, others = (_rings(place.outline, one.point) for place in (one, other))
    if rings and others:
        return _between(rings, others)
    east, north = _plane(np.array([[other.point[1], other.point[0]]]), one.point)[0]
    return None if math.hypot(east, north) <= APART_FT else math.inf


def _rings(outline: Any, origin: tuple[float, float]) -> list[Floats]:
    """Rings of a polygon or several, in feet east and north of the origin."""
    if not outline:
        return []
    shapes = [outline["coordinates"]] if outline["type"] == "Polygon" else outline["coordinates"]
    return [_plane(np.array([p[:2] for p in ring], dtype=float), origin) for shape in shapes for ring in shape]


def _plane(positions: Floats, origin: tuple[float, float]) -> Floats:
    """Positions (lon, lat) on the plane that touches the ellipsoid (WGS 84) at the origin, in feet: true to a few
    thousandths within some miles."""
    a, e2, ft = 6378137.0, 0.00669437999014, 0.3048
    latitude, longitude = origin
    flat = 1 - e2 * math.sin(math.radians(latitude)) ** 2
    per_north = math.radians(1) * a * (1 - e2) / flat**1.5 / ft
    per_east = math.radians(1) * a / flat**0.5 * math.cos(math.radians(latitude)) / ft
    return np.asarray((positions - (longitude, latitude)) * (per_east, per_north))


def _between(rings: Sequence[Floats], others: Sequence[Floats]) -> float:
    # Each part may lie wholly inside the other place, so one corner of every ring is asked about.
    if any(_holds(rings, ring[0]) for ring in others) or any(_holds(others, ring[0]) for ring in rings):
        return 0.0
    return min(_edges_apart(ring, other) for ring in rings for other in others)


def _holds(rings: Sequence[Floats], point: Floats) -> bool:
    """Whether a point lies inside, holes taken out: a ray to the east crosses an odd number of edges."""
    crossed = 0
    for ring in rings:
        (x, y), (x2, y2) = ring[:-1].T, ring[1:].T
        passes = (y > point[1]) != (y2 > point[1])
        at = x + (point[1] - y) * (x2 - x) / np.where(passes, y2 - y, 1.0)
        crossed += int((passes & (at > point[0])).sum())
    return crossed % 2 == 1


def _edges_apart(ring: Floats, other: Floats) -> float:
    """The least distance between the edges of two closed rings."""
    a, b, c, d = ring[:-1], ring[1:], other[:-1], other[1:]
    if _cross(a, b, c, d).any():
        return 0.0
    return float(min(_to_edges(a, c, d).min(), _to_edges(c, a, b).min()))


def _cross(a: Floats, b: Floats, c: Floats, d: Floats) -> NDArray[np.bool_]:
    def side(p: Floats, q: Floats, r: Floats) -> Floats:
        found = (q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1]) - (q[..., 1] - p[..., 1]) * (r[..., 0] - p[..., 0])
        return np.sign(found)

    a, b, c, d = a[:, None], b[:, None], c[None], d[None]
    return (side(a, b, c) * side(a, b, d) < 0) & (side(c, d, a) * side(c, d, b) < 0)


def _to_edges(points: Floats, starts: Floats, ends: Floats) -> Floats:
    along = ends - starts
    length = np.maximum((along**2).sum(axis=1), 1e-12)
    off = points[:, None] - starts[None]
    share = np.clip((off * along).sum(axis=2) / length, 0.0, 1.0)
    return np.asarray(np.hypot(*np.moveaxis(off - share[..., None] * along, 2, 0)))
