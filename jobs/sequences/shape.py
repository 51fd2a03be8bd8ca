"""Whether a document has the shape of a sequence at all: text where text belongs, tables where tables do.

A file's author gets the form right by its example; a document that came by the network may be anything. What passes
here can be read by `from_document`, which judges the meaning.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

MOST_ROWS = 500
LONGEST_TEXT = 4000
LARGEST = 100_000
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_KEY = re.compile(r"[A-Za-z0-9_-]{1,60}")

# A shape is a greatest length of text, "key", "names" (a key or several), "words" (a table of short words), bool, int,
# float, [the shape of its items], or {word: shape}.
_SOURCED: dict[str, Any] = {"source": 60, "worth": 20, "note": 300}
_ALSO = [{"says": 300, "source": 60, "worth": 20}]
_DAY = 12
_CLOSED_BY = [_SOURCED | {"active": 60, "days": int, "after_rain_in": float, "written_reason": bool}]
_DEADLINE = _SOURCED | {"day": _DAY, "freeze_f": int, "less_days": int}
_WAIT = _SOURCED | {"relation": 2, "min": 40, "max": 40, "confirm": 30, "also": _ALSO}
_STEP = _SOURCED | {
    "key": "key",
    "operation": 30,
    "title": 120,
    "instruction": LONGEST_TEXT,
    "note": 1000,
    "from": _DAY,
    "to": _DAY,
    "best": [_DAY],
    "branch": "key",
    "duration": {"minutes": int, "acres_per_hour": float, "feet_per_hour": float, "worth": 20},
    "deadline": _DEADLINE,
    "repeat": _SOURCED | {"every_days": int, "latest_days": int, "until": _DAY, "at_most": int, "until_done": ["key"]},
    "hazards": [30],
    "skip": 12,
    "outcomes": [30],
    "observes": "words",
    "needs": [
        _SOURCED | {"machine": 60, "material": 60, "skill": 60, "role": 60, "rate_per_acre": float, "rate_unit": 30}
    ],
    "limits": [_SOURCED | {"what": 60, "at_least": float, "at_most": float}],
    "closed_by": _CLOSED_BY,
    "tags": [40],
    "lead_days": int,
    "least_crew": int,
    "also": _ALSO,
}
_DOCUMENT: dict[str, Any] = {
    "key": "key",
    "version": int,
    "name": 120,
    "purpose": 1000,
    "crop": 60,
    "habitat": 120,
    "region": 300,
    "note": LONGEST_TEXT,
    "season": {"from": _DAY, "to": _DAY},
    "step": [_STEP],
    "link": [_WAIT | {"before": "names", "after": "key", "degree_days": 12, "max_source": 60}],
    "branch": [
        {
            "key": "key",
            "name": 120,
            "group": "key",
            "order": int,
            "parent": "key",
            "opened_by": "key",
            "outcomes": [30],
            "expected": bool,
            "option": {"last": _DEADLINE, "closed_by": _CLOSED_BY, "note": 1000},
        }
    ],
    "across": [
        _WAIT
        | {
            "sequences": ["key"],
            "operation": 30,
            "tag": 40,
            "to": "key",
            "scope": 12,
            "actives": [60],
            "look_back_days": int,
        }
    ],
}


def shape_faults(document: Any) -> list[str]:
    """Every place where the document is not of the form, in plain words; words it does not know are left to reading."""
    return list(_faults(document, _DOCUMENT, ""))


def _faults(value: Any, kind: Any, where: str) -> Iterator[str]:
    what = where or "The document"
    if isinstance(kind, dict):
        if not isinstance(value, Mapping):
            yield f"{what}: this is a table of words and values."
            return
        for word, inner in kind.items():
            if word in value:
                yield from _faults(value[word], inner, f"{where}.{word}" if where else word)
    elif isinstance(kind, list):
        if not isinstance(value, list) or len(value) > MOST_ROWS:
            yield f"{what}: this is a list of at most {MOST_ROWS}."
            return
        if where.endswith(".best") and len(value) != 2:
            yield f"{what}: this is a first and a last day."
        for number, item in enumerate(value, start=1):
            yield from _faults(item, kind[0], f"{where} {number}")
    elif kind == "words":
        if not isinstance(value, Mapping) or len(value) > MOST_ROWS:
            yield f"{what}: this is a table of words."
            return
        for word, item in value.items():
            yield from (fault for part in (word, item) for fault in _faults(part, 30, where))
    elif kind == "names":
        yield from _faults(value, ["key"] if isinstance(value, list) else "key", where)
    elif not _is(value, kind):
        yield f"{what}: this is {_words(kind)}."


def _is(value: Any, kind: Any) -> bool:
    if kind == "key":
        return isinstance(value, str) and _KEY.fullmatch(value) is not None
    if kind is bool:
        return isinstance(value, bool)
    if isinstance(value, bool):
        return False
    if kind is int:
        return isinstance(value, int) and abs(value) <= LARGEST
    if kind is float:
        return isinstance(value, int | float) and abs(value) <= LARGEST
    return isinstance(value, str) and len(value) <= kind and _CONTROL.search(value) is None


def _words(kind: Any) -> str:
    if kind == "key":
        return "a key of at most 60 letters, digits, _ and -"
    if kind is bool:
        return "true or false"
    if kind is int:
        return f"a whole number up to {LARGEST:,}"
    if kind is float:
        return f"a number up to {LARGEST:,}"
    return f"text of at most {kind} characters"
