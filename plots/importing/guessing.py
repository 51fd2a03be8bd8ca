"""What an import file holds, told from its name and its first line."""

from __future__ import annotations

import csv

from plots.importing.columns import COLUMNS
from plots.importing.tables import lines_of

_OF_ENDING = {"geojson": "geojson", "json": "geojson", "kml": "kml", "kmz": "kmz", "gpx": "gpx"}


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
    fitting = [
        kind
        for kind, columns in COLUMNS.items()
        if named
        and named <= {column.name for column in columns}
        and {column.name for column in columns if column.required} <= named
    ]
    return fitting[0] if len(fitting) == 1 else None
