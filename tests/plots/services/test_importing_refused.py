"""One refused row of a file stores nothing, the good ones are kept when asked, and hostile files end in a sentence."""

import io
import zipfile
from datetime import UTC, datetime

import pytest

from core.errors import Refused
from core.models import Holding, Person
from plots.models import Day, Material, Plot, Property, PropertySeries, Series
from tests.plots.services.intake import everything, refusals, take, versions

pytestmark = pytest.mark.django_db


# One refused row


BAD_ROWS = [
    ("plots", "name,property,acres\nA,Otter Bend,2\nB,Nowhere,3\n", "Line 3: No property 'Nowhere' is in this holding"),
    ("plots", "name,property,acres\nA,Otter Bend,2\nB,Otter Bend,-3\n", "Line 3: acres is -3. Give acres above 0."),
    ("machines", "name,kind,at_property\nA,tractor,\nB,tractor,Nowhere\n", "Line 3: No property 'Nowhere'"),
    ("people", f"name,crews\nAda,Good crew\nBob,{'c' * 70}\n", "Line 3: name: Ensure this value has at most 60"),
    ("materials", "name,kind,unit,on_hand\nA,seed,lb,5\nOats,seed,bag,3\n", "Line 3: It is counted in lb here"),
    ("days", "date,high_f,low_f\n2026-05-01,60,40\n2026-05-02,35,\n", "Line 3: The day's high is below its low"),
]


@pytest.mark.parametrize(("kind", "text", "sentence"), BAD_ROWS)
def test_one_refused_row_stores_nothing_and_wakes_nobody(
    kind: str, text: str, sentence: str, holding: Holding, land: Property, manager: Person
) -> None:
    series = Series.objects.create(owner=holding, source="typed", place="barn")
    Day.objects.create(series=series, date="2026-05-02", high_f=60, low_f=50)
    PropertySeries.objects.create(holding=holding, property=land, rank=1, series=series)
    Material.objects.create(holding=holding, name="Oats", kind="seed", unit="lb")
    before, version = everything(), versions(holding)
    imported = take(holding, kind, text, property=land, by=manager)
    (told,) = refusals(imported)
    assert told.startswith(sentence)
    assert (imported.stored, imported.same, everything(), versions(holding)) == (0, 0, before, version)
    assert imported.summary == "1 refused. Nothing was stored."


@pytest.mark.parametrize(("kind", "text", "sentence"), BAD_ROWS)
def test_the_good_rows_are_kept_when_asked_and_the_answer_says_so(
    kind: str, text: str, sentence: str, holding: Holding, land: Property, manager: Person
) -> None:
    series = Series.objects.create(owner=holding, source="typed", place="barn")
    Day.objects.create(series=series, date="2026-05-02", high_f=60, low_f=50)
    PropertySeries.objects.create(holding=holding, property=land, rank=1, series=series)
    Material.objects.create(holding=holding, name="Oats", kind="seed", unit="lb")
    version = versions(holding)
    imported = take(holding, kind, text, property=land, by=manager, keep_good=True)
    assert [told.startswith(sentence) for told in refusals(imported)] == [True]
    assert imported.summary == "1 new, 0 changed, 0 as before. 1 refused and left out."
    assert versions(holding) > version
    assert not Person.objects.filter(name="Bob").exists()
    assert Day.objects.get(date="2026-05-02").high_f == 60


def test_every_refused_row_is_listed_in_the_order_of_the_file(holding: Holding, land: Property) -> None:
    text = "name,property,acres\nA,Nowhere,2\nB,Otter Bend,-3\nC,Elsewhere,1\nD,Otter Bend,1\n"
    imported = take(holding, "plots", text)
    assert [refusal.where for refusal in imported.refused] == ["Line 2", "Line 3", "Line 4"]
    assert not Plot.objects.exists()


def test_last_manager_is_not_imported_away_and_a_handover_is_taken(holding: Holding, manager: Person) -> None:
    gone = take(holding, "people", "name,role\nManager of home,helper\n")
    assert "at least one active manager" in refusals(gone)[0]
    handed = take(holding, "people", "name,role\nManager of home,helper\nAda,manager\n")
    assert (handed.new, handed.changed, refusals(handed)) == (1, 1, [])


def test_unknown_kind_is_refused_by_name(holding: Holding) -> None:
    with pytest.raises(Refused, match=r"'tractors' is no kind of file\. Give one of: geojson, "):
        take(holding, "tractors", b"x")


RING = "[[-94.21,42.43],[-94.20,42.43],[-94.20,42.44],[-94.21,42.44],[-94.21,42.43]]"
BOW = "[[-94.21,42.43],[-94.20,42.44],[-94.20,42.43],[-94.21,42.44],[-94.21,42.43]]"
SWAPPED = "[[42.43,-94.21],[42.43,-94.20],[42.44,-94.20],[42.44,-94.21],[42.43,-94.21]]"


def feature(ring: str) -> bytes:
    return (
        '{"type":"Feature","properties":{"name":"A"},'
        f'"geometry":{{"type":"Polygon","coordinates":[{ring}]}}}}'.encode()
    )


def bomb() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", b"\0" * 9_000_000)
    return out.getvalue()


ENTITIES = b'<!DOCTYPE kml [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><kml><Placemark><name>&b;</name></Placemark></kml>'


@pytest.mark.parametrize(
    ("kind", "data", "words"),
    [
        ("geojson", feature(BOW), "The outline crosses itself near"),
        ("geojson", feature(SWAPPED), "Latitude and longitude are swapped"),
        ("geojson", b"[" * 100_000, "nested too deeply"),
        ("geojson", b'{"type": "Feature", "geometry": NaN}', "it has NaN where a number should be"),
        ("kml", ENTITIES, "it has a document type or entities"),
        ("gpx", b"<gpx><trk>", "it is no XML: line 1"),
        ("kmz", bomb(), "unpacks to more than 100 times its size"),
        ("kmz", b"PK\x03\x04rubbish", "the archive cannot be unpacked"),
        ("days", b"\xff\xfe\x00", "the text is not UTF-8"),
        ("days", b"", "the file is empty"),
        ("people", b"x" * 10_000_001, "more than 10,000,000"),
    ],
)
def test_hostile_file_is_refused_in_plain_words_and_nothing_is_stored(
    kind: str, data: bytes, words: str, holding: Holding, land: Property
) -> None:
    before, version = everything(), versions(holding)
    imported = take(holding, kind, data, property=land, keep_good=True)
    assert [words in told for told in refusals(imported)] == [True]
    assert (imported.stored, everything(), versions(holding)) == (0, before, version)


def test_outline_that_lies_nearer_its_property_when_swapped_is_refused(holding: Holding) -> None:
    Property.objects.create(holding=holding, name="South", latitude=33.0, longitude=-70.0, zone="America/Chicago")
    ring = "[[33.0,-70.0],[33.0,-69.99],[33.01,-69.99],[33.01,-70.0],[33.0,-70.0]]"
    data = feature(ring).replace(b'"name":"A"', b'"name":"A","property":"South"')
    (told,) = refusals(take(holding, "geojson", data))
    assert "Latitude and longitude are swapped" in told


# Long files


def test_progress_is_told_every_so_many_rows_and_at_the_end(holding: Holding, land: Property) -> None:
    seen: list[tuple[int, int]] = []
    text = "name,property,acres\n" + "".join(f"P{number},Otter Bend,1\n" for number in range(520))
    take(holding, "plots", text, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(250, 520), (500, 520), (520, 520)]


def test_refused_hour_is_found_in_a_long_file_and_the_others_are_kept(holding: Holding, land: Property) -> None:
    start = datetime(2026, 1, 1, tzinfo=UTC).timestamp()
    lines = [f"{datetime.fromtimestamp(start + 3600 * n, UTC):%Y-%m-%dT%H:%MZ},{n % 90}" for n in range(5_000)]
    seen: list[int] = []
    first = take(
        holding,
        "hours",
        "time,temp_f\n" + "\n".join(lines),
        property=land,
        progress=lambda done, total: seen.append(done),
    )
    assert (first.new, first.refused, seen[-1]) == (5_000, (), 5_000)
    assert len(seen) >= 3
    lines[3_000] = lines[3_000].partition(",")[0] + ",900"
    kept = take(holding, "hours", "time,temp_f\n" + "\n".join(lines), property=land, keep_good=True)
    assert (kept.same, refusals(kept)) == (4_999, ["Line 3002: temp_f is 900. Give degrees F from -90 to 140."])
