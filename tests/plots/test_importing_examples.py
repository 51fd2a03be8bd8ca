"""The example import files are read whole, without a refusal, and show every kind."""

from pathlib import Path

import pytest

from plots.importing import KINDS, parse

FOLDER = Path(__file__).parents[2] / "fixtures" / "imports"
KIND_OF_NAME = {"plots.geojson": "geojson", "plots.kml": "kml", "walked.gpx": "gpx"}
EXAMPLES = sorted(path.name for path in FOLDER.iterdir())


def kind_of(name: str) -> str:
    return KIND_OF_NAME.get(name, Path(name).stem)


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_is_read_whole(name):
    parsed = parse(kind_of(name), (FOLDER / name).read_bytes(), near=(42.433, -94.206))
    assert parsed.refused == []
    assert len(parsed.rows) >= 2


def test_every_kind_but_the_zipped_one_has_an_example():
    assert {kind_of(name) for name in EXAMPLES} == set(KINDS) - {"kmz"}
