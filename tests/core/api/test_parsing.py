"""JSON is read strictly."""

import pytest
from rest_framework.exceptions import ParseError

from core.api.parsing import load

WRONG = [
    (b'{"a": 1, "a": 2}', "'a' stands twice"),
    (b'{"o": {"b": 1, "b": 1}}', "'b' stands twice"),
    (b'{"a": 1234567890123456789}', "more than 18 digits"),
    (b'{"a": NaN}', "not JSON"),
    (b'{"a": -Infinity}', "not JSON"),
    (b'{"a": 1e999}', "not JSON"),
    (b'{"a": "\\ud800"}', "not JSON"),
    (b'{"a": "\xff"}', "not JSON"),
    (b"", "not JSON"),
    (b"[" * 33 + b"]" * 33, "too deeply"),
    (b"[" * 100_000 + b"]" * 100_000, "not JSON"),
]


@pytest.mark.parametrize(("body", "told"), WRONG)
def test_body_that_is_no_strict_json_is_refused(body: bytes, told: str) -> None:
    with pytest.raises(ParseError, match=told):
        load(body)


def test_good_body_is_read_as_it_stands() -> None:
    assert load('{"a": [1, 2.5, null, true, "é😀"], "b": -123456789012345678}'.encode()) == {
        "a": [1, 2.5, None, True, "é😀"],
        "b": -123456789012345678,
    }


def test_32_levels_are_deep_enough_and_read() -> None:
    assert load(b"[" * 32 + b"]" * 32) is not None
