"""GeoJSON (RFC 7946): outlines become plots or boundaries, points become places."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NoReturn

from plots.edges import LatLon
from plots.importing.rows import Parsed, refused_file
from plots.importing.shapes import Collector

_GEOMETRIES = (
    "Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection",
)  # fmt: skip
_WGS84 = ("CRS84", "EPSG::4326", "EPSG:4326")


class _Refused(ValueError):
    """What JSON allows and this file must not have."""


def parse_geojson(data: bytes, near: LatLon | None = None) -> Parsed:
    """Read a FeatureCollection, a Feature or a bare geometry.

    Refused as a whole: what is no JSON in UTF-8, repeated keys, NaN and infinities, nesting past what can be read,
    another reference system than WGS 84. Attributes of a feature: see `Collector.add`.
    """
    try:
        found = json.loads(data.decode("utf-8-sig"), object_pairs_hook=_once, parse_constant=_no_constant)
    except UnicodeDecodeError:
        return refused_file("the text is not UTF-8", "Save it as UTF-8 and try again.")
    except _Refused as refused:
        return refused_file(str(refused), "Correct the file and try again.")
    except json.JSONDecodeError as error:
        return refused_file(f"it is no JSON: line {error.lineno}, column {error.colno}", "Export it again as GeoJSON.")
    except ValueError:
        return refused_file("a number has too many digits", "Export it again as GeoJSON.")
    except RecursionError:
        return refused_file("it is nested too deeply", "Export it again as GeoJSON.")
    if not isinstance(found, dict):
        return refused_file("it is no GeoJSON object", "Export it again as GeoJSON.")
    system = _reference_system(found)
    if system is not None and not system.endswith(_WGS84):
        return refused_file(f"its coordinates are in '{system[:60]}'", "Export it in WGS 84 (longitude and latitude).")
    if found.get("type") == "FeatureCollection":
        features = found.get("features")
        if not isinstance(features, list):
            return refused_file("the collection has no list of features", "Export it again as GeoJSON.")
    elif found.get("type") == "Feature":
        features = [found]
    elif found.get("type") in _GEOMETRIES:
        features = [{"type": "Feature", "properties": {"name": found.get("name")}, "geometry": found}]
    else:
        return refused_file(
            f"its type is {_short(found.get('type'))}", "Give a FeatureCollection, a Feature or a geometry."
        )
    collector = Collector(near)
    for number, feature in enumerate(features, 1):
        if collector.full:
            break
        _add(collector, f"Feature {number}", feature)
    if not features:
        return refused_file("the collection is empty", "Export it again with the shapes chosen.")
    return collector.parsed


def _add(collector: Collector, what: str, feature: Any) -> None:
    if not isinstance(feature, dict) or feature.get("type") != "Feature":
        collector.refuse(what, "it is no feature", 'Give an object of type "Feature".')
        return
    said = feature.get("properties")
    if said is not None and not isinstance(said, dict):
        collector.refuse(what, "its properties are no object", "Give an object, or null.")
        return
    collector.add(what, said or {}, feature.get("geometry"))


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise _Refused(f"the key '{key[:40]}' stands twice in one object")
        found[key] = value
    return found


def _no_constant(word: str) -> NoReturn:
    raise _Refused(f"it has {word} where a number should be")


def _reference_system(found: Mapping[str, Any]) -> str | None:
    """Name of the reference system of the older format, None if the file names none; RFC 7946 knows WGS 84 alone."""
    system = found.get("crs")
    if system is None:
        return None
    named = system.get("properties") if isinstance(system, dict) else None
    name = named.get("name") if isinstance(named, dict) else None
    return name if isinstance(name, str) else "a system without a name"


def _short(value: Any) -> str:
    return "missing" if value is None else f"'{str(value)[:40]}'"
