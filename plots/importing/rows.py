"""What the parsers return: rows as plain data, and refusals with what to do.

`given` names the values that the file filled in. The others stand at what a new row has, and say nothing about a row
that is stored already.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

MAX_BYTES = 10_000_000
MAX_NAME = 80
MAX_NOTE = 200

PLOT_KINDS = ("food_plot", "burn_unit", "fence_line", "feeding_place", "trail", "yard")
ROLES = ("manager", "helper", "viewer")
MACHINE_STATES = ("works", "down", "on_loan", "hired")


@dataclass(frozen=True, slots=True)
class Refusal:
    """One line or element that was not read: where it stands, why, and what to do."""

    where: str
    reason: str
    cure: str

    @property
    def sentence(self) -> str:
        return f"{self.where}: {self.reason}. {self.cure}"


@dataclass(frozen=True, slots=True)
class PlotRow:
    """A plot: an outline (GeoJSON geometry) with its measures, or typed acres; property empty if the file says none.

    `latitude` and `longitude` are the middle of the outline, or as typed.
    """

    where: str
    name: str
    kind: str = "food_plot"
    property: str = ""
    polygon: dict[str, Any] | None = None
    acres_geodesic: float | None = None
    perimeter_ft: float | None = None
    acres: float | None = None
    latitude: float | None = None
    longitude: float | None = None
    texture: str = ""
    note: str = ""
    given: frozenset[str] = field(default=frozenset(), compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class BoundaryRow:
    """The outline of a whole property (an element of kind "property"); the place is its middle."""

    where: str
    name: str
    boundary: dict[str, Any]
    acres_geodesic: float
    latitude: float
    longitude: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A named point: a gate, a stand, a feeding place."""

    where: str
    name: str
    latitude: float
    longitude: float
    kind: str = ""
    property: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class PersonRow:
    where: str
    name: str
    role: str = "helper"
    email: str = ""
    zone: str = ""
    crews: tuple[str, ...] = ()
    given: frozenset[str] = field(default=frozenset(), compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class MachineRow:
    where: str
    name: str
    kind: str
    width_ft: float | None = None
    speed_mph: float | None = None
    efficiency: float | None = None
    at_property: str = ""
    state: str = "works"
    until: date | None = None
    with_operator: bool = False
    note: str = ""
    given: frozenset[str] = field(default=frozenset(), compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class MaterialRow:
    where: str
    name: str
    kind: str
    unit: str
    active: str = ""
    analysis: str = ""
    pack_size: float | None = None
    lead_days: int = 0
    restricted: bool = False
    on_hand: float | None = None
    lot: str = ""
    note: str = ""
    given: frozenset[str] = field(default=frozenset(), compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class DayRow:
    """Weather of one local civil day; None is not known, which is not 0."""

    where: str
    date: date
    high_f: float | None = None
    low_f: float | None = None
    rain_in: float | None = None


@dataclass(frozen=True, slots=True)
class HourRow:
    """Weather at an instant (aware, UTC); None is not known, which is not 0. With `issued` it is a forecast."""

    where: str
    at: datetime
    temp_f: float | None = None
    humidity_pct: float | None = None
    wind_mph: float | None = None
    gust_mph: float | None = None
    wind_dir_deg: float | None = None
    rain_in: float | None = None
    issued: datetime | None = None


@dataclass(frozen=True, slots=True)
class NormalRow:
    """The normal of a day of the year ("02-28"); degree days by their way of counting. None is not published."""

    where: str
    month_day: str
    high_f: float | None
    low_f: float | None
    degree_days: Mapping[str, float]


Row = PlotRow | BoundaryRow | PlaceRow | PersonRow | MachineRow | MaterialRow | DayRow | HourRow | NormalRow


@dataclass(slots=True)
class Parsed:
    """Rows in file order, refusals in file order, and notes on what was left out or closed on purpose."""

    rows: list[Row] = field(default_factory=list)
    refused: list[Refusal] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def refused_file(reason: str, cure: str) -> Parsed:
    """A file of which nothing can be read."""
    return Parsed(refused=[Refusal("File", reason, cure)])
