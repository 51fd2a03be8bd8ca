"""A document from the network: what is no sequence at all is said by place, and nothing of it breaks the reading."""

from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest

from jobs.sequences import Reference, SequenceError, Shipped, from_document
from jobs.sequences.shape import shape_faults
from tests.jobs.api.documents import strip_of_oats

WRONG: tuple[Any, ...] = (
    None, True, 7, -1.5, 10**9, "", "x" * 5000, "a\x00b", [], [[]], {}, {"a": {"b": []}}, ["x", 3],
)  # fmt: skip


def test_every_shipped_sequence_has_the_shape(shipped: Shipped) -> None:
    found = {key: shape_faults(document) for key, document in shipped.documents.items()}
    assert found == {key: [] for key in shipped.documents}


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"step": {"key": "till"}}, "step: this is a list of at most 500."),
        ({"step": ["till"]}, "step 1: this is a table of words and values."),
        ({"name": 7}, "name: this is text of at most 120 characters."),
        ({"season": {"from": 4, "to": "06-30"}}, "season.from: this is text of at most 12 characters."),
        ({"key": "oat strip"}, "key: this is a key of at most 60 letters, digits, _ and -."),
        ({"branch": [{"expected": 1}]}, "branch 1.expected: this is true or false."),
    ],
)
def test_wrong_shape_is_named_by_its_place(change: dict[str, Any], fault: str) -> None:
    assert shape_faults(strip_of_oats(**change)) == [fault]


def places(value: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to every value in a document."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in inner:
        yield (*way, key)
        yield from places(item, (*way, key))


def test_whatever_stands_in_whatever_place_is_read_or_refused_in_words(reference: Reference, shipped: Shipped) -> None:
    tried = silent = 0
    corn = {name: rows[:4] if isinstance(rows, list) else rows for name, rows in shipped.documents["corn"].items()}
    for document in (strip_of_oats(), corn):
        for way in places(document):
            for wrong in WRONG:
                broken = deepcopy(document)
                at: Any = broken
                for key in way[:-1]:
                    at = at[key]
                at[way[-1]] = wrong
                tried += 1
                if shape_faults(broken):
                    continue
                try:
                    from_document(broken, reference)
                except SequenceError as error:
                    silent += not error.faults
    assert silent == 0
    assert tried > 1000
