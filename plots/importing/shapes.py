"""From the elements of a map file to rows; shared by the formats."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from plots.edges import LatLon
from plots.geometry import M_PER_MILE, MAX_POSITIONS, BadShape, miles_between, read_shape, swapped
from plots.importing.rows import MAX_NAME, MAX_NOTE, PLOT_KINDS, BoundaryRow, Parsed, PlaceRow, PlotRow, Refusal
from plots.units import FOOT_M

MAX_ELEMENTS = 1_000
MAX_POSITIONS_A_FILE = 50_000
CLOSING_FT = 100.0
"""A walked line whose ends lie nearer than this, and nearer than a fifth of its length, is closed (common practice)."""


class Collector:
    """Takes elements one by one, keeps rows and refusals, and stops at the limits of a file."""

    def __init__(self, near: LatLon | None) -> None:
        self.parsed = Parsed()
        self._near = near
        self._names: dict[tuple[str, str, str], str] = {}
        self._elements = self._positions = 0
        self._said_full = False

    @property
    def full(self) -> bool:
        """True past the limits of a file; said once, the rest of the file is not read."""
        if self._elements < MAX_ELEMENTS and self._positions < MAX_POSITIONS_A_FILE:
            return False
        if not self._said_full:
            self.refuse(
                "File",
                f"it has more than {MAX_ELEMENTS:,} shapes or {MAX_POSITIONS_A_FILE:,} positions",
                "Split it into smaller files and import each.",
            )
        self._said_full = True
        return True

    def refuse(self, where: str, reason: str, cure: str) -> None:
        self.parsed.refused.append(Refusal(where, reason.rstrip("."), cure))

    def add(self, what: str, said: Mapping[str, Any], geometry: Any) -> None:
        """Add an element. `what` is "Feature 3"; `said` its attributes; `geometry` GeoJSON, unchecked.

        Attributes read: name, kind, property, note (or description), whatever their letter case; others pass by.
        """
        self._elements += 1
        self._positions += _count(geometry.get("coordinates") if isinstance(geometry, Mapping) else None)
        words = {key.lower(): value for key, value in said.items()}
        name = _text(words.get("name"))
        where = f'{what} "{name[:MAX_NAME]}"' if name else what
        kind = _text(words.get("kind")).lower().replace(" ", "_")
        note = _text(words.get("note")) or _text(words.get("description"))
        prop = _text(words.get("property"))
        for label, value, limit in (("name", name, MAX_NAME), ("note", note, MAX_NOTE), ("property", prop, MAX_NAME)):
            if len(value) > limit:
                self.refuse(where, f"the {label} has {len(value)} characters", f"Give at most {limit}.")
                return
        if not name:
            self.refuse(where, "it has no name", "Give it a name.")
            return
        if kind and kind not in (*PLOT_KINDS, "property"):
            self.refuse(
                where, f"kind is '{kind[:40]}'", f"Give one of: {', '.join(PLOT_KINDS)}, property; or leave it out."
            )
            return
        row = self._row(where, name, kind, prop, note, geometry)
        if row is None:
            return
        key = (type(row).__name__, prop.casefold(), name.casefold())
        if key in self._names:
            self.refuse(where, f"the name stands at {self._names[key]} already", "Give each its own name.")
            return
        self._names[key] = what
        self.parsed.rows.append(row)

    def _row(
        self, where: str, name: str, kind: str, prop: str, note: str, geometry: Any
    ) -> PlotRow | BoundaryRow | PlaceRow | None:
        try:
            shape_kind = geometry.get("type") if isinstance(geometry, Mapping) else None
            if shape_kind == "Point":
                lat, lon = point(geometry.get("coordinates"), self._near)
                return PlaceRow(where, name, lat, lon, kind, prop, note)
            if shape_kind == "LineString":
                geometry = self._closed(where, geometry.get("coordinates"))
            shape = read_shape(geometry, self._near)
        except BadShape as bad:
            self.refuse(where, bad.reason, bad.cure)
            return None
        lat, lon = shape.centre
        if kind == "property":
            return BoundaryRow(where, name, shape.geojson, shape.acres, lat, lon, note)
        return PlotRow(
            where=where,
            name=name,
            kind=kind or "food_plot",
            property=prop,
            polygon=shape.geojson,
            acres_geodesic=shape.acres,
            perimeter_ft=shape.perimeter_ft,
            latitude=lat,
            longitude=lon,
            note=note,
            given=frozenset(name for name, value in (("kind", kind), ("note", note)) if value),
        )

    def _closed(self, where: str, line: Any) -> dict[str, Any]:
        """A walked line as an outline, closed if its ends nearly meet (and a note says so); BadShape if they do not."""
        good = isinstance(line, Sequence) and len(line) >= 3 and all(_pair(position) for position in line)
        if not good:
            raise BadShape("The line is too short to be an outline.", "Walk or draw the whole outline.")
        points = [(float(position[0]), float(position[1])) for position in line]
        joined = {"type": "Polygon", "coordinates": [[*points, points[0]]]}
        if points[0] == points[-1] or len(points) > MAX_POSITIONS or any(abs(lat) > 90 for _, lat in points):
            return joined  # of these the check of the outline says what is wrong; a repeated position is dropped there
        (x1, y1), (x2, y2) = points[0], points[-1]
        gap_ft = _feet(y2, x2, y1, x1)
        length_ft = sum(_feet(a[1], a[0], b[1], b[0]) for a, b in pairwise(points))
        if gap_ft > min(CLOSING_FT, length_ft / 5):
            raise BadShape(
                f"The line is not closed: its ends lie {gap_ft:,.0f} ft apart.",
                "An outline ends where it starts; close it, or draw a polygon.",
            )
        self.parsed.notes.append(f"{where}: the ends lay {gap_ft:,.0f} ft apart and were joined.")
        return joined


def _count(coordinates: Any) -> int:
    """Positions in coordinates, however they are nested: lists that hold no list."""
    count, waiting = 0, [coordinates]
    while waiting:
        found = waiting.pop()
        if isinstance(found, list | tuple):
            inner = [each for each in found if isinstance(each, list | tuple)]
            count += not inner
            waiting.extend(inner)
    return count


def point(position: Any, near: LatLon | None) -> tuple[float, float]:
    """(latitude, longitude) of a GeoJSON position; BadShape as for outlines."""
    if not _pair(position):
        raise BadShape(
            "The point has no longitude and latitude on the globe.", "Give both in degrees, longitude first."
        )
    lon, lat = float(position[0]), float(position[1])
    if abs(lat) > 90 or (near is not None and swapped(lat, lon, near)):
        raise BadShape("Latitude and longitude are swapped.", "Put longitude first and latitude second.")
    return lat, lon


def _pair(position: Any) -> bool:
    """Whether a position begins with two finite numbers within a globe's 180 degrees."""
    return (
        isinstance(position, Sequence)
        and not isinstance(position, str)
        and len(position) >= 2
        and all(isinstance(n, int | float) and not isinstance(n, bool) and abs(n) <= 180 for n in position[:2])
    )


def _feet(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    return miles_between(lat1, lon1, lat2, lon2) * M_PER_MILE / FOOT_M


def _text(value: Any) -> str:
    """An attribute as one line of clean text; numbers as written, everything else as nothing."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return ""
    kept = (" " if char.isspace() else char for char in str(value))
    return " ".join("".join(char for char in kept if unicodedata.category(char) not in ("Cc", "Cs")).split())
