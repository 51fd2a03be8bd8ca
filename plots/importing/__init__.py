"""Reading import files: bytes in, rows and refusals out.

Nothing here decides whether a file with refusals is taken in part, writes to a database, reads a clock or a network.
"""

from __future__ import annotations

from collections.abc import Callable

from plots.edges import LatLon
from plots.importing.columns import COLUMNS, Column
from plots.importing.geojson import parse_geojson
from plots.importing.guessing import guess_kind
from plots.importing.markup import parse_gpx, parse_kml, parse_kmz
from plots.importing.rows import (
    MAX_BYTES,
    BoundaryRow,
    DayRow,
    HourRow,
    MachineRow,
    MaterialRow,
    NormalRow,
    Parsed,
    PersonRow,
    PlaceRow,
    PlotRow,
    Refusal,
    Row,
    refused_file,
)
from plots.importing.station import parse_history, parse_normals
from plots.importing.tables import parse_table

__all__ = [
    "COLUMNS", "KINDS", "MAX_BYTES", "BoundaryRow", "Column", "DayRow", "HourRow", "MachineRow", "MaterialRow",
    "NormalRow", "Parsed", "PersonRow", "PlaceRow", "PlotRow", "Refusal", "Row", "guess_kind", "parse",
]  # fmt: skip

_WHOLE: dict[str, Callable[[bytes, LatLon | None], Parsed]] = {
    "geojson": parse_geojson,
    "kml": parse_kml,
    "kmz": parse_kmz,
    "gpx": parse_gpx,
    "normals": parse_normals,
    "history": parse_history,
}
KINDS = (*_WHOLE, *COLUMNS)


def parse(kind: str, data: bytes, *, zone: str | None = None, near: LatLon | None = None) -> Parsed:
    """Read an import file of a kind in `KINDS`.

    `zone` names the time zone of hourly weather times that carry no offset; `near` is the (latitude, longitude) of
    the property that shapes belong to, so that swapped coordinates are seen. Whatever the bytes are, the answer is a
    `Parsed`; only a kind that is not known raises ValueError.
    """
    if kind not in KINDS:
        raise ValueError(f"'{kind}' is no kind of import file. Known: {', '.join(KINDS)}.")
    if len(data) > MAX_BYTES:
        return refused_file(
            f"the file has {len(data):,} bytes, more than {MAX_BYTES:,}", "Split it into smaller files and import each."
        )
    if not data.strip():
        return refused_file("the file is empty", "Export it again.")
    return _WHOLE[kind](data, near) if kind in _WHOLE else parse_table(kind, data, zone)
