"""Rules of GeoJSON import (RFC 7946)."""

import json
from typing import Any

import pytest

from plots.importing import BoundaryRow, Parsed, PlaceRow, PlotRow, parse
from plots.importing.shapes import MAX_ELEMENTS

SQUARE = [[-93.0, 42.0], [-92.99, 42.0], [-92.99, 42.01], [-93.0, 42.01], [-93.0, 42.0]]
OUTLINE = {"type": "Polygon", "coordinates": [SQUARE]}


def feature(geometry: Any, **said: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": said, "geometry": geometry}


def read(found: Any, near: tuple[float, float] | None = None) -> Parsed:
    return parse("geojson", (found if isinstance(found, str) else json.dumps(found)).encode(), near=near)


def collection(*features: Any) -> Parsed:
    return read({"type": "FeatureCollection", "features": list(features)})


def refusals(parsed: Parsed) -> list[str]:
    return [refusal.sentence for refusal in parsed.refused]


def test_an_outline_is_a_plot_with_its_measures_and_middle():
    (row,) = collection(
        feature(OUTLINE, Name=" North\n bend ", kind="Burn unit", property="East", note="wet", OBJECTID=7)
    ).rows
    assert isinstance(row, PlotRow)
    assert (row.where, row.name, row.kind, row.property, row.note) == (
        'Feature 1 "North bend"',
        "North bend",
        "burn_unit",
        "East",
        "wet",
    )
    assert row.polygon == OUTLINE
    assert row.acres is None
    assert row.acres_geodesic == pytest.approx(227, abs=1)
    assert row.perimeter_ft == pytest.approx(12_700, abs=100)
    assert (row.latitude, row.longitude) == (pytest.approx(42.005), pytest.approx(-92.995))


def test_an_outline_of_kind_property_is_a_boundary():
    (row,) = collection(feature(OUTLINE, name="East", kind="property")).rows
    assert isinstance(row, BoundaryRow)
    assert row.boundary == OUTLINE


def test_a_point_is_a_place():
    (row,) = collection(
        feature({"type": "Point", "coordinates": [-93, 42, 300]}, name=17, description="north gate")
    ).rows
    assert row == PlaceRow('Feature 1 "17"', "17", 42, -93, note="north gate")


def test_a_feature_and_a_bare_shape_are_read_too():
    assert len(read(feature(OUTLINE, name="A")).rows) == 1
    assert len(read(OUTLINE | {"name": "A"}).rows) == 1
    assert len(read("\ufeff" + json.dumps(feature(OUTLINE, name="A"))).rows) == 1


def test_a_closed_line_is_an_outline_and_an_open_one_is_not():
    (row,) = collection(feature({"type": "LineString", "coordinates": SQUARE}, name="A")).rows
    assert row.polygon == OUTLINE
    parsed = collection(feature({"type": "LineString", "coordinates": SQUARE[:4]}, name="A"))
    (sentence,) = refusals(parsed)
    assert sentence.startswith('Feature 1 "A": The line is not closed: its ends lie 3,6')


@pytest.mark.parametrize("line", [None, [], SQUARE[:2], [[1, 2], [3, "4"], [5, 6]], [[1, 2], [3, True], [5, 6]]])
def test_a_line_that_is_too_short_or_no_numbers_is_refused(line):
    (sentence,) = refusals(collection(feature({"type": "LineString", "coordinates": line}, name="A")))
    assert "too short to be an outline" in sentence


def test_a_line_with_too_many_positions_is_refused_before_it_is_measured():
    line = [[-93 + k * 1e-6, 42] for k in range(5_001)]
    (sentence,) = refusals(collection(feature({"type": "LineString", "coordinates": line}, name="A")))
    assert "5,002 positions" in sentence


@pytest.mark.parametrize("coordinates", [None, [], [1], ["a", 2], [200, 2], [float("1e400"), 2], "12"])
def test_a_point_off_the_globe_is_refused(coordinates):
    text = json.dumps(feature({"type": "Point", "coordinates": coordinates}, name="A")).replace("Infinity", "1e400")
    (sentence,) = refusals(read(text))
    assert "no longitude and latitude on the globe" in sentence


def test_swapped_shapes_are_called_swapped():
    swapped_square = [[y, x] for x, y in SQUARE]
    for geometry in (
        {"type": "Polygon", "coordinates": [swapped_square]},
        {"type": "LineString", "coordinates": swapped_square[:4]},
        {"type": "Point", "coordinates": [42, -93]},
    ):
        (sentence,) = refusals(collection(feature(geometry, name="A")))
        assert "Latitude and longitude are swapped." in sentence
        assert sentence.endswith("Put longitude first and latitude second.")


def test_a_point_is_seen_as_swapped_from_its_property():
    point = feature({"type": "Point", "coordinates": [45, 20]}, name="A")
    assert "swapped" in refusals(read(point, near=(45, 20)))[0]
    assert read(point, near=(20, 45)).refused == []


def test_a_self_crossing_outline_is_refused_with_its_place():
    bow = [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3], SQUARE[0]]
    assert refusals(collection(feature({"type": "Polygon", "coordinates": [bow]}, name="A"))) == [
        'Feature 1 "A": The outline crosses itself near 42.00500 N 92.99500 W. '
        "Draw it again without the crossing there."
    ]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({}, "it has no name. Give it a name."),
        ({"name": True}, "it has no name."),
        ({"name": {"a": 1}}, "it has no name."),
        ({"name": "\ud800\x00"}, "it has no name."),
        ({"name": "x" * 81}, "the name has 81 characters. Give at most 80."),
        ({"name": "A", "note": "x" * 201}, "the note has 201 characters. Give at most 200."),
        ({"name": "A", "property": "x" * 81}, "the property has 81 characters."),
        ({"name": "A", "kind": "lake"}, "kind is 'lake'. Give one of: food_plot, burn_unit,"),
    ],
)
def test_attributes_that_cannot_be_taken_are_refused(said, words):
    (sentence,) = refusals(collection(feature(OUTLINE, **said)))
    assert words in sentence


def test_a_name_stands_once_on_a_property():
    parsed = collection(
        feature(OUTLINE, name="A"), feature(OUTLINE, name="a"), feature(OUTLINE, name="A", property="East")
    )
    assert refusals(parsed) == ['Feature 2 "a": the name stands at Feature 1 already. Give each its own name.']
    assert len(parsed.rows) == 2


def test_a_bad_feature_leaves_the_others_read():
    parsed = collection(
        5, {"type": "Other"}, feature(None, name="A"), feature(OUTLINE) | {"properties": 5}, feature(OUTLINE, name="B")
    )
    assert [refusal.where for refusal in parsed.refused] == ["Feature 1", "Feature 2", 'Feature 3 "A"', "Feature 4"]
    assert len(parsed.rows) == 1
    assert (
        refusals(collection(feature(OUTLINE) | {"properties": None}))[0] == "Feature 1: it has no name. Give it a name."
    )


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("{", "it is no JSON: line 1, column 2"),
        ("[]", "it is no GeoJSON object"),
        ('{"type": "Topology"}', "its type is 'Topology'"),
        ("{}", "its type is missing"),
        ('{"type": "FeatureCollection"}', "the collection has no list of features"),
        ('{"type": "FeatureCollection", "features": []}', "the collection is empty"),
        ('{"type": "Feature", "type": "Feature"}', "the key 'type' stands twice in one object"),
        ('{"type": "Point", "coordinates": [NaN, 1]}', "it has NaN where a number should be"),
        ('{"type": "Point", "coordinates": [-Infinity, 1]}', "it has -Infinity where a number should be"),
        ('{"type": ' + "[" * 200_000, "it is nested too deeply"),
        ('{"type": "Point", "coordinates": [' + "9" * 5_000 + ", 1]}", "a number has too many digits"),
    ],
)
def test_a_file_that_is_no_geojson_is_refused_whole(text, reason):
    parsed = read(text)
    assert parsed.rows == []
    assert [(refusal.where, refusal.reason) for refusal in parsed.refused] == [("File", reason)]


def test_text_that_is_not_utf_8_is_refused():
    assert parse("geojson", b'{"type": "\xff"}').refused[0].reason == "the text is not UTF-8"


def test_another_reference_system_is_refused_and_wgs_84_is_not():
    def with_crs(crs: Any) -> Parsed:
        return read(feature(OUTLINE, name="A") | {"crs": crs})

    assert with_crs(None).refused == []
    assert with_crs({"properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}).refused == []
    assert "EPSG::26915" in refusals(with_crs({"properties": {"name": "urn:ogc:def:crs:EPSG::26915"}}))[0]
    for crs in (5, {}, {"properties": 5}, {"properties": {"name": 5}}):
        assert "a system without a name" in refusals(with_crs(crs))[0]


def test_too_many_features_are_said_once_and_the_rest_is_not_read():
    point = {"type": "Point", "coordinates": [-93, 42]}
    parsed = collection(*(feature(point, name=f"P{number}") for number in range(MAX_ELEMENTS + 3)))
    assert len(parsed.rows) == MAX_ELEMENTS
    assert refusals(parsed) == [
        "File: it has more than 1,000 shapes or 50,000 positions. Split it into smaller files and import each."
    ]


def test_too_many_positions_in_a_file_are_said_once_and_the_rest_is_not_read():
    """Refused outlines count as well: looking for what is wrong with them is what takes the time."""
    line = [[-93 + k * 1e-6, 42] for k in range(4_998)]
    back = {"type": "Polygon", "coordinates": [[*line, line[0], line[1]]]}
    parsed = collection(*(feature(back, name=f"P{number}") for number in range(15)))
    assert [refusal.where for refusal in parsed.refused[-2:]] == ['Feature 10 "P9"', "File"]
    assert parsed.refused[-1].reason == "it has more than 1,000 shapes or 50,000 positions"


@pytest.mark.parametrize("coordinates", [[[[]]], [[5, [1, 2]]], {"a": [1]}, [[[1, 2], 3]]])
def test_positions_are_counted_in_whatever_the_coordinates_are(coordinates):
    parsed = collection(feature({"type": "Polygon", "coordinates": coordinates}, name="A"))
    assert [refusal.where for refusal in parsed.refused] == ['Feature 1 "A"']
