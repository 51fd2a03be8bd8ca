"""What an import file holds, told from its name and its first line."""

from __future__ import annotations

import csv
import re

from plots.importing.columns import COLUMNS
from plots.importing.tables import lines_of

_OF_ENDING = {
    "geojson": "geojson", "json": "geojson", "kml": "kml", "kmz": "kmz", "gpx": "gpx", "dly": "history",
}  # fmt: skip
_STATION_LINE = re.compile(r"[A-Z0-9_-]{11}")


def guess_kind(name: str, data: bytes) -> str | None:
    """The kind in `KINDS` of a file: by its ending, or of a table by its columns. None if neither settles it."""
    by_ending = _OF_ENDING.get(name.lower().rpartition(".")[2])
    if by_ending:
        return by_ending
    try:
        _, header = next(lines_of(data.decode("utf-8-sig")), (0, []))
    except (UnicodeDecodeError, csv.Error):
        return None
    named = {column.lower() for column in header}
    if {"date", "dly-tmax-normal"} <= named:
        return "normals"
    if len(header) >= 7 and _STATION_LINE.fullmatch(header[0]) and header[1].isdigit():
        return "history"  # lines without names of columns
    fitting = [
        kind
        for kind, columns in COLUMNS.items()
        if named
        and named <= {column.name for column in columns}
        and {column.name for column in columns if column.required} <= named
    ]
    return fitting[0] if len(fitting) == 1 else None
