"""Bodies as JSON, read strictly: what a phone did not mean is refused instead of guessed."""

import json
from collections.abc import Mapping
from typing import Any

import orjson
from django.core.exceptions import RequestDataTooBig
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

from core.api.rendering import OrjsonRenderer

LARGEST_BODY = 2 * 1024 * 1024
LONGEST_INTEGER = 18
DEEPEST = 32


class JSONParser(BaseParser):
    """RFC 8259 with RFC 7493's limits: UTF-8, no name twice, no NaN, integers within 18 digits, at most 32 levels."""

    media_type = "application/json"
    renderer_class = OrjsonRenderer

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Mapping[str, Any] | None = None) -> Any:
        body = stream.read(LARGEST_BODY + 1)
        if len(body) > LARGEST_BODY:
            raise RequestDataTooBig
        return load(body)


def load(body: bytes) -> Any:
    """The value of a JSON body.

    Raises:
        ParseError: it is no strict JSON; the sentence says what is wrong.
    """
    try:
        orjson.loads(body)  # refuses what json lets through: NaN, 1e999, bad UTF-8, lone surrogates
        value = json.loads(body, object_pairs_hook=_object, parse_int=_integer)
    except RecursionError as error:
        raise ParseError("The body is nested too deeply.") from error
    except ValueError as error:
        raise ParseError(f"The body is not JSON as it should be: {error}.") from error
    if _deeper_than(value, DEEPEST):
        raise ParseError("The body is nested too deeply.")
    return value


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the name {twice[:60]!r} stands twice")
    return found


def _integer(text: str) -> int:
    if len(text.lstrip("-")) > LONGEST_INTEGER:
        raise ValueError(f"a number has more than {LONGEST_INTEGER} digits")
    return int(text)


def _deeper_than(value: Any, levels: int) -> bool:
    layer = [value]
    for _ in range(levels):
        layer = [inner for outer in layer if isinstance(outer, dict | list) for inner in _inside(outer)]
        if not layer:
            return False
    return any(isinstance(inner, dict | list) for inner in layer)


def _inside(outer: Any) -> Any:
    return outer.values() if isinstance(outer, dict) else outer
