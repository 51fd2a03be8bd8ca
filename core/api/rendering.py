"""Answers as JSON bytes."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import orjson
from rest_framework.renderers import BaseRenderer

_OPTIONS = orjson.OPT_NON_STR_KEYS | orjson.OPT_SERIALIZE_NUMPY | orjson.OPT_UTC_Z


def _other(value: Any) -> Any:
    """What orjson does not know: exact numbers stay numbers, sets are sorted, the rest says its own name."""
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, set | frozenset):
        return sorted(value)
    return str(value)


def dump(value: Any) -> bytes:
    """JSON of plain data; dates and instants in ISO 8601, instants in UTC with a Z. A number that is none is null."""
    return orjson.dumps(value, default=_other, option=_OPTIONS)


class OrjsonRenderer(BaseRenderer):
    media_type = "application/json"
    format = "json"
    charset = None

    def render(
        self, data: Any, accepted_media_type: str | None = None, renderer_context: Mapping[str, Any] | None = None
    ) -> bytes:
        return b"" if data is None else dump(data)
