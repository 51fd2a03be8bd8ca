"""Rules of KML, KMZ and GPX import, and of the gate that hostile files stop at."""

import io
import stat
import zipfile

import pytest

from plots.importing import BoundaryRow, Parsed, PlaceRow, PlotRow, parse
from plots.importing.shapes import MAX_ELEMENTS

RING = "-93,42,0 -92.99,42,0 -92.99,42.01,0 -93,42.01,0 -93,42,0"
HOLE = "-92.996,42.004 -92.994,42.004 -92.994,42.006 -92.996,42.004"


def polygon(ring: str = RING, holes: str = "") -> str:
    outer = f"<outerBoundaryIs><LinearRing><coordinates>{ring}</coordinates></LinearRing></outerBoundaryIs>"
    return f"<Polygon>{outer}{holes}</Polygon>"


def inner(*rings: str) -> str:
    inside = "".join(f"<LinearRing><coordinates>{ring}</coordinates></LinearRing>" for ring in rings)
    return f"<innerBoundaryIs>{inside}</innerBoundaryIs>"


def placemark(shape: str, name: str = "A", more: str = "") -> str:
    return f"<Placemark><name>{name}</name>{more}{shape}</Placemark>"


def kml(*inside: str, head: str = "") -> bytes:
    body = "".join(inside)
    return (
        f'{head}<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder>{body}</Folder></Document></kml>'.encode()
    )


def gpx(inside: str) -> bytes:
    return f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{inside}</gpx>'.encode()


def kmz(*entries: tuple[str | zipfile.ZipInfo, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries:
            archive.writestr(name, data)
    return out.getvalue()


def refusals(parsed: Parsed) -> list[str]:
    return [refusal.sentence for refusal in parsed.refused]


# KML


def test_a_polygon_with_holes_is_a_plot():
    (row,) = parse("kml", kml(placemark(polygon(holes=inner(HOLE))))).rows
    assert isinstance(row, PlotRow)
    assert (row.where, row.name, row.kind) == ('Placemark 1 "A"', "A", "food_plot")
    assert row.polygon is not None
    assert [len(ring) for ring in row.polygon["coordinates"]] == [5, 4]


def test_several_rings_in_one_inner_boundary_are_several_holes():
    second = "-92.999,42.001 -92.998,42.001 -92.998,42.002 -92.999,42.001"
    (row,) = parse("kml", kml(placemark(polygon(holes=inner(HOLE, second))))).rows
    assert len(row.polygon["coordinates"]) == 3


def test_several_polygons_of_a_placemark_are_one_plot():
    other = RING.replace("-93,", "-92.9,").replace("-92.99,", "-92.89,")
    (row,) = parse("kml", kml(placemark(f"<MultiGeometry>{polygon()}{polygon(other)}</MultiGeometry>"))).rows
    assert row.polygon["type"] == "MultiPolygon"


def test_extended_data_names_kind_property_and_note():
    kind, note = '<Data name="kind"><value>property</value></Data>', '<Data name="Note"><value>river</value></Data>'
    (row,) = parse("kml", kml(placemark(polygon(), more=f"<ExtendedData>{kind}{note}</ExtendedData>"))).rows
    assert isinstance(row, BoundaryRow)
    assert row.note == "river"
    simple = '<ExtendedData><SchemaData><SimpleData name="property">East</SimpleData></SchemaData></ExtendedData>'
    (row,) = parse("kml", kml(placemark(polygon(), more="<description>wet</description>" + simple))).rows
    assert (row.property, row.note) == ("East", "wet")


def test_a_point_is_a_place_and_a_closed_line_a_plot():
    text = kml(
        placemark("<Point><coordinates>-93,42,0</coordinates></Point>", "Gate"),
        placemark(f"<LineString><coordinates>{RING}</coordinates></LineString>", "Walk"),
    )
    place, plot = parse("kml", text).rows
    assert place == PlaceRow('Placemark 1 "Gate"', "Gate", 42, -93)
    assert isinstance(plot, PlotRow)


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        ("", "The shape is without a type, not an outline"),
        ("<Point/>", "no longitude and latitude"),
        ("<Polygon/>", "no coordinates as lists of rings"),
        (polygon("1,2,3 x,4 5,6 1,2"), "The position ['x', 4.0] is not two numbers"),
        (polygon("nan,2 3,4 5,6 nan,2"), "is not two numbers"),
        (polygon() + "<Point><coordinates>-93,42</coordinates></Point>", "it mixes several shapes"),
    ],
)
def test_a_placemark_without_a_good_shape_is_refused(shape, words):
    parsed = parse("kml", kml(placemark(shape), placemark(polygon(), "B")))
    (sentence,) = refusals(parsed)
    assert words in sentence
    assert len(parsed.rows) == 1


def test_a_network_link_is_left_out_and_said():
    link = "<NetworkLink><Link><href>http://10.0.0.1/secret.kml</href></Link></NetworkLink>"
    parsed = parse("kml", kml(link, link, placemark(polygon()), "<GroundOverlay/>"))
    assert parsed.notes == [
        "Network links left out: 2. Nothing named in a file is fetched.",
        "Pictures on the ground left out: 1. Nothing named in a file is fetched.",
    ]
    assert len(parsed.rows) == 1


def test_a_file_without_placemarks_is_refused():
    assert refusals(parse("kml", kml())) == ["File: it has no placemarks. Export it again with the shapes chosen."]


def test_too_many_placemarks_are_said_once():
    point = "<Point><coordinates>-93,42</coordinates></Point>"
    parsed = parse("kml", kml(*(placemark(point, f"P{number}") for number in range(MAX_ELEMENTS + 2))))
    assert len(parsed.rows) == MAX_ELEMENTS
    assert len(parsed.refused) == 1


# The gate


LAUGHS = '<!DOCTYPE kml [<!ENTITY a "ha">' + "".join(
    f'<!ENTITY {name} "{f"&{before};" * 10}">' for before, name in zip("abcdefgh", "bcdefghi", strict=True)
) + "]>"  # fmt: skip


@pytest.mark.parametrize(
    "head",
    [
        LAUGHS,
        '<!DOCTYPE kml SYSTEM "http://192.0.2.1/kml.dtd">',
        '<!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/passwd">]>',
        "<!DOCTYPE kml>",
    ],
)
@pytest.mark.parametrize("kind", ["kml", "gpx"])
def test_document_types_entities_and_outside_references_stop_at_the_gate(kind, head):
    name = "&i;" if head == LAUGHS else "&x;" if "ENTITY x" in head else "A"
    parsed = parse(kind, kml(placemark(polygon(), name), head=head))
    assert parsed.rows == []
    assert parsed.refused[0].reason == "it has a document type or entities, which a map file does not need"


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"<kml><Placemark></kml>", "it is no XML: line 1, column 18"),
        (b"not xml", "it is no XML: line 1, column 0"),
        (b"<gpx/>", "it begins with <gpx>, not <kml>"),
        (b'<?xml version="1.0" encoding="martian"?><kml/>', "its text encoding is not known"),
        (b'<?xml version="1.0" encoding="utf-7"?><kml/>', "its text encoding is not known"),
    ],
)
def test_what_is_no_kml_is_refused(data, reason):
    assert [refusal.reason for refusal in parse("kml", data).refused] == [reason]


def test_deep_nesting_is_read_without_harm():
    depth = 50_000
    parsed = parse(
        "kml", b"<kml>" + b"<Folder>" * depth + placemark(polygon()).encode() + b"</Folder>" * depth + b"</kml>"
    )
    assert len(parsed.rows) == 1


# KMZ


def test_the_first_kml_of_an_archive_is_read_and_others_are_said():
    data = kmz(("images/a.png", b"x"), ("doc.kml", kml(placemark(polygon()))), ("files/more.KML", kml()))
    for kind in ("kmz", "kml"):
        parsed = parse(kind, data)
        assert [row.name for row in parsed.rows] == ["A"]
        assert parsed.notes == ["Only doc.kml was read; .kml files left out: 1."]


def test_an_archive_of_one_kml_needs_no_note():
    parsed = parse("kmz", kmz(("doc.kml", kml(placemark(polygon())))))
    assert (len(parsed.rows), parsed.notes) == (1, [])


def linked() -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo("doc.kml")
    entry.external_attr = (stat.S_IFLNK | 0o777) << 16
    return entry


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        ([("a.txt", b"x")], "the archive holds no .kml file"),
        ([(f"{number}.kml", b"x") for number in range(51)], "the archive has 51 entries, more than 50"),
        ([("doc.kml", b"0" * 10_000_001)], "the archive unpacks to 10,000,001 bytes, more than 10,000,000"),
        ([("doc.kml", b"0" * 6_000_000), ("b", b"0" * 6_000_000)], "unpacks to 12,000,000 bytes"),
        ([("doc.kml", b"0" * 1_000_000)], "more than 100 times its size"),
        ([("../doc.kml", b"x")], "leads outside it"),
        ([("/doc.kml", b"x")], "leads outside it"),
        ([("C:\\doc.kml", b"x")], "leads outside it"),
        ([(linked(), b"/etc/passwd")], "is a link"),
        ([("doc.kml", kmz(("doc.kml", b"x")))], "its .kml is an archive again"),
    ],
)
def test_a_hostile_archive_is_refused(entries, words):
    (refusal,) = parse("kmz", kmz(*entries)).refused
    assert words in refusal.reason


def test_an_archive_that_lies_about_its_size_is_refused():
    data = kmz(("doc.kml", kml(placemark(polygon()))))
    size = len(kml(placemark(polygon()))).to_bytes(4, "little")
    assert data.count(size) == 2
    for lie in (10, 100):
        (refusal,) = parse("kmz", data.replace(size, lie.to_bytes(4, "little"))).refused
        assert refusal.reason == "the archive cannot be unpacked"


def test_a_broken_or_locked_archive_is_refused():
    data = kmz(("doc.kml", kml(placemark(polygon()))))
    locked = bytearray(data)
    locked[6] |= 1
    locked[data.index(b"PK\x01\x02") + 8] |= 1
    central = data.index(b"PK\x01\x02")
    packing, version = bytearray(data), bytearray(data)
    packing[central + 10] = 99
    version[central + 6] = 200
    strange = [bytes(one) for one in (locked, packing, version)]
    for broken in (b"PK\x03\x04rest", data[: len(data) // 2], b"not an archive", *strange):
        (refusal,) = parse("kmz", broken).refused
        assert refusal.reason == "the archive cannot be unpacked"


# GPX


def points(tag: str, corners: list[tuple[float, float]]) -> str:
    return "".join(f'<{tag} lat="{lat}" lon="{lon}"><ele>250</ele></{tag}>' for lat, lon in corners)


WALK = [(42.0, -93.0), (42.0, -92.99), (42.01, -92.99), (42.01, -93.0)]


def test_waypoints_are_places():
    (row,) = parse("gpx", gpx('<wpt lat="42" lon="-93"><name>Gate</name><desc>north</desc></wpt>')).rows
    assert row == PlaceRow('Waypoint 1 "Gate"', "Gate", 42, -93, note="north")


def test_a_walk_whose_ends_nearly_meet_is_closed_and_said():
    walk = [*WALK, (42.0001, -93.0)]
    parsed = parse("gpx", gpx(f"<trk><name>East side</name><trkseg>{points('trkpt', walk)}</trkseg></trk>"))
    (row,) = parsed.rows
    assert isinstance(row, PlotRow)
    assert row.polygon["coordinates"][0][-1] == [-93.0, 42.0]
    assert parsed.notes == ['Track 1 "East side": the ends lay 36 ft apart and were joined.']


def test_the_segments_of_a_track_are_joined_and_a_closed_route_needs_no_note():
    halves = f"<trkseg>{points('trkpt', WALK[:2])}</trkseg><trkseg>{points('trkpt', [*WALK[2:], WALK[0]])}</trkseg>"
    route = f"<rte><name>B</name><type>trail</type>{points('rtept', [*WALK, WALK[0]])}</rte>"
    parsed = parse("gpx", gpx(f"<trk><name>A</name>{halves}</trk>{route}"))
    assert [(row.name, row.kind) for row in parsed.rows] == [("B", "trail"), ("A", "food_plot")]
    assert parsed.notes == []


def test_an_open_walk_is_refused_with_the_gap():
    parsed = parse("gpx", gpx(f"<trk><name>A</name><trkseg>{points('trkpt', WALK)}</trkseg></trk>"))
    (sentence,) = refusals(parsed)
    assert "its ends lie 3,6" in sentence
    assert sentence.endswith("close it, or draw a polygon.")


def test_a_small_walk_is_not_closed_over_a_gap_that_is_most_of_it():
    tiny = [(42.0, -93.0), (42.0, -92.9999), (42.0001, -92.9999)]
    assert "ends lie" in refusals(parse("gpx", gpx(f"<rte><name>A</name>{points('rtept', tiny)}</rte>")))[0]


def test_points_without_numbers_and_files_without_shapes_are_refused():
    assert "no longitude and latitude" in refusals(parse("gpx", gpx('<wpt lat="x"><name>A</name></wpt>')))[0]
    assert refusals(parse("gpx", gpx("")))[0].startswith("File: it has no waypoints, routes or tracks.")
    assert "begins with <kml>" in refusals(parse("gpx", kml()))[0]


def test_too_many_waypoints_are_refused_and_the_tracks_after_them_not_read():
    many = "".join(f'<wpt lat="42" lon="-93"><name>W{number}</name></wpt>' for number in range(MAX_ELEMENTS + 1))
    parsed = parse("gpx", gpx(many + f"<trk><name>A</name><trkseg>{points('trkpt', WALK)}</trkseg></trk>"))
    assert len(parsed.rows) == MAX_ELEMENTS
    assert [refusal.where for refusal in parsed.refused] == ["File"]
