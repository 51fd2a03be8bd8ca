"""Answers as JSON bytes."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

import orjson
from django.http import HttpResponse
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request

JSON = "application/json"
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
    media_type = JSON
    format = "json"
    charset = None

    def render(
        self, data: Any, accepted_media_type: str | None = None, renderer_context: Mapping[str, Any] | None = None
    ) -> bytes:
        return b"" if data is None else dump(data)


class Negotiation(DefaultContentNegotiation):
    """What most ask for, JSON or anything, of a view that gives JSON alone needs no negotiating."""

    def select_renderer(
        self, request: Request, renderers: Iterable[BaseRenderer], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        told, renderers = request.META, list(renderers)
        usual = told.get("HTTP_ACCEPT", "*/*") in ("*/*", JSON) and not format_suffix
        if usual and "format" not in told.get("QUERY_STRING", "") and [one.media_type for one in renderers] == [JSON]:
            return renderers[0], JSON
        found: tuple[BaseRenderer, str] = super().select_renderer(request, renderers, format_suffix)
        return found


def json_response(value: Any) -> HttpResponse:
    """A good answer of a view that gives JSON alone, rendered without the framework's round."""
    return HttpResponse(dump(value), content_type=JSON)
