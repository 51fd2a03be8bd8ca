"""What a file holds is told from its ending, or of a table from its columns, or not at all."""

from pathlib import Path

import pytest

from plots.importing import COLUMNS, guess_kind

EXAMPLES = Path(__file__).parents[2] / "fixtures" / "imports"


@pytest.mark.parametrize(
    ("name", "kind"),
    [("a.geojson", "geojson"), ("A.JSON", "geojson"), ("b.kml", "kml"), ("c.KMZ", "kmz"), ("walk.gpx", "gpx")],
)
def test_a_map_is_told_by_its_ending(name, kind):
    assert guess_kind(name, b"whatever") == kind


@pytest.mark.parametrize("kind", sorted(COLUMNS))
def test_a_table_is_told_by_its_columns_whatever_its_name(kind):
    assert guess_kind("table.csv", (EXAMPLES / f"{kind}.csv").read_bytes()) == kind
    least = ",".join(column.name.upper() for column in COLUMNS[kind] if column.required)
    assert guess_kind("table.txt", least.encode()) == kind


@pytest.mark.parametrize(
    "data", [b"", b"\n\n", b"width,height\n1,2\n", b"name,colour\nA,red\n", b"\xff\xfe", b'"open', b"kind,unit\n"]
)
def test_a_table_that_its_columns_do_not_tell_is_not_guessed(data):
    assert guess_kind("table.csv", data) is None
