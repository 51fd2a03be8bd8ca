"""KML, KMZ and GPX, behind a gate that refuses document types, entities and outside references.

Nothing named in a file is ever fetched. Only names, notes, outlines and points are read; styles and views pass by.
"""

from __future__ import annotations

import io
import stat
import zipfile
import zlib
from collections.abc import Iterator
from typing import Any
from xml.etree.ElementTree import Element, ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import fromstring

from plots.edges import LatLon
from plots.importing.rows import MAX_BYTES, Parsed, refused_file
from plots.importing.shapes import Collector

MAX_ENTRIES = 50
MAX_RATIO = 100
"""Unpacked bytes for each packed byte; honest map files stay far below."""
_ZIP = b"PK\x03\x04"


def parse_kml(data: bytes, near: LatLon | None = None) -> Parsed:
    """Read the placemarks of a KML 2.2 file (OGC 07-147r2); a zipped one is read as KMZ.

    Polygons, and lines that close, become plots or boundaries; points become places; several polygons of one placemark
    are one plot. `kind`, `property` and `note` may stand in its ExtendedData.
    """
    if data.startswith(_ZIP):
        return parse_kmz(data, near)
    root = _root(data, "kml")
    if isinstance(root, Parsed):
        return root
    collector = Collector(near)
    for number, placemark in enumerate(_all(root, "Placemark"), 1):
        if collector.full:
            break
        said = {item.get("name", ""): _text(item, "value") for item in _all(placemark, "Data")}
        said |= {item.get("name", ""): item.text or "" for item in _all(placemark, "SimpleData")}
        said |= {tag: _text(placemark, tag) for tag in ("name", "description")}
        geometry = _kml_geometry(placemark)
        if isinstance(geometry, str):
            collector.refuse(f"Placemark {number}", geometry, "Give one polygon, one closed line or one point.")
        else:
            collector.add(f"Placemark {number}", said, geometry)
    for tag, what in (("NetworkLink", "network links"), ("GroundOverlay", "pictures on the ground")):
        count = sum(1 for _ in _all(root, tag))
        if count:
            collector.parsed.notes.append(f"{what.capitalize()} left out: {count}. Nothing named in a file is fetched.")
    return _nonempty(collector, "placemarks")


def parse_kmz(data: bytes, near: LatLon | None = None) -> Parsed:
    """Read the first .kml of a KMZ archive.

    Refused: more than 50 entries, more than 10,000,000 bytes unpacked (as declared and as they come), more than 100
    times the packed size, entries that leave the archive, links, encryption.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            reason = _archive_fault(entries)
            if reason:
                return refused_file(reason, "Export it again as plain KML.")
            first = next((entry for entry in entries if entry.filename.lower().endswith(".kml")), None)
            if first is None:
                return refused_file("the archive holds no .kml file", "Export it again as KMZ or plain KML.")
            with archive.open(first) as stream:
                text = stream.read(MAX_BYTES)  # never more than declared; more is there: the checksum fails
    # RuntimeError and its kinds: zipfile's words for a password, a version or a packing that it does not know.
    except (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError, ValueError):
        return refused_file("the archive cannot be unpacked", "Export it again as KMZ or plain KML.")
    if text.startswith(_ZIP):
        return refused_file("its .kml is an archive again", "Export it again as plain KML.")
    parsed = parse_kml(text, near)
    others = sum(1 for entry in entries if entry.filename.lower().endswith(".kml")) - 1
    if others:
        parsed.notes.append(f"Only {first.filename[:80]} was read; .kml files left out: {others}.")
    return parsed


def parse_gpx(data: bytes, near: LatLon | None = None) -> Parsed:
    """Read a GPX 1.1 file: waypoints become places, tracks and routes that close become plots.

    The segments of a track are joined in order. `type` of a track, route or waypoint may name the kind of plot.
    """
    root = _root(data, "gpx")
    if isinstance(root, Parsed):
        return root
    collector = Collector(near)
    for tag, point, what in (("wpt", "", "Waypoint"), ("rte", "rtept", "Route"), ("trk", "trkpt", "Track")):
        for number, element in enumerate(_all(root, tag), 1):
            if collector.full:
                break
            said = {
                "name": _text(element, "name"),
                "description": _text(element, "desc"),
                "kind": _text(element, "type"),
            }
            positions = [_gpx_position(each) for each in ([element] if not point else _all(element, point))]
            geometry = (
                {"type": "LineString", "coordinates": positions}
                if point
                else {"type": "Point", "coordinates": positions[0]}
            )
            collector.add(f"{what} {number}", said, geometry)
    return _nonempty(collector, "waypoints, routes or tracks")


def _root(data: bytes, expected: str) -> Element | Parsed:
    """Root of the document, or the refusal of the file."""
    again = f"Export it again as {expected.upper()}."
    try:
        root: Element = fromstring(data, forbid_dtd=True)
    except DefusedXmlException:
        return refused_file("it has a document type or entities, which a map file does not need", again)
    except ParseError as error:
        line, column = error.position
        return refused_file(f"it is no XML: line {line}, column {column}", again)
    except (ValueError, LookupError):
        return refused_file("its text encoding is not known", "Save it as UTF-8 and try again.")
    if _bare(root) != expected:
        return refused_file(f"it begins with <{_bare(root)[:40]}>, not <{expected}>", again)
    return root


def _archive_fault(entries: list[zipfile.ZipInfo]) -> str | None:
    if len(entries) > MAX_ENTRIES:
        return f"the archive has {len(entries)} entries, more than {MAX_ENTRIES}"
    total = sum(entry.file_size for entry in entries)
    if total > MAX_BYTES:
        return f"the archive unpacks to {total:,} bytes, more than {MAX_BYTES:,}"
    for entry in entries:
        parts = entry.filename.replace("\\", "/").split("/")
        if ".." in parts or parts[0] == "" or ":" in parts[0]:
            return "an entry of the archive leads outside it"
        if stat.S_ISLNK(entry.external_attr >> 16):
            return "an entry of the archive is a link"
        if entry.file_size > MAX_RATIO * max(entry.compress_size, 1):
            return f"an entry of the archive unpacks to more than {MAX_RATIO} times its size"
    return None


def _bare(element: Element) -> str:
    """Tag without its namespace; files name several versions."""
    return element.tag.rpartition("}")[2]


def _all(element: Element, tag: str) -> Iterator[Element]:
    return (each for each in element.iter() if _bare(each) == tag)


def _text(element: Element, tag: str) -> str:
    """Text of the first direct child of that tag, "" if there is none."""
    return next(((child.text or "").strip() for child in element if _bare(child) == tag), "")


def _kml_geometry(placemark: Element) -> dict[str, Any] | str | None:
    """GeoJSON of a placemark, unchecked; a sentence if it mixes several; None if it has no shape."""
    polygons = [_kml_polygon(polygon) for polygon in _all(placemark, "Polygon")]
    lines = list(_all(placemark, "LineString"))
    points = list(_all(placemark, "Point"))
    if len(lines) + len(points) + bool(polygons) > 1:
        return "it mixes several shapes"
    if polygons:
        return {"type": "MultiPolygon", "coordinates": polygons}
    if lines:
        return {"type": "LineString", "coordinates": _kml_positions(lines[0])}
    if points:
        return {"type": "Point", "coordinates": next(iter(_kml_positions(points[0])), None)}
    return None


def _kml_polygon(polygon: Element) -> list[list[Any]]:
    outer = [_kml_positions(ring) for ring in _all(polygon, "outerBoundaryIs")]
    holes = [ring for inner in _all(polygon, "innerBoundaryIs") for ring in _all(inner, "LinearRing")]
    return [*outer[:1], *(_kml_positions(ring) for ring in holes)]


def _kml_positions(element: Element) -> list[Any]:
    """Positions of the element's coordinates: longitude, latitude and perhaps height, a blank between positions."""
    text = next((each.text or "" for each in _all(element, "coordinates")), "")
    return [[_number(part) for part in word.split(",")] for word in text.split()]


def _gpx_position(element: Element) -> list[Any]:
    return [_number(element.get("lon", "")), _number(element.get("lat", ""))]


def _number(word: str) -> float | str:
    """The number, or the word itself for the shape check to refuse by name."""
    try:
        return float(word)
    except ValueError:
        return word


def _nonempty(collector: Collector, what: str) -> Parsed:
    if not collector.parsed.rows and not collector.parsed.refused:
        collector.refuse("File", f"it has no {what}", "Export it again with the shapes chosen.")
    return collector.parsed
