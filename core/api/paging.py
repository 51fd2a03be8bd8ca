"""Lists in pages of bounded size and depth."""

from typing import Any

from rest_framework import exceptions
from rest_framework.exceptions import ValidationError
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request

from core.errors import NotFound

DEEPEST_ROW = 100_000


class Pages(PageNumberPagination):
    """`?page=2&page_size=100`: 50 rows a page, at most 200, down to row 100,000."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any] | None:
        asked = request.query_params.get(self.page_query_param, "1")
        if not (asked.isascii() and asked.isdigit() and int(asked[:12]) > 0):
            raise ValidationError({self.page_query_param: "Give the number of a page, from 1 on."})
        size = self.get_page_size(request) or self.page_size
        if int(asked[:12]) * size > DEEPEST_ROW:
            raise ValidationError({"page": f"Lists end at row {DEEPEST_ROW:,}. Narrow the list by its filters."})
        try:
            return super().paginate_queryset(queryset, request, view)
        except exceptions.NotFound as error:
            sentence = "This list has no such page: it ends before it."
            raise NotFound(sentence, field=self.page_query_param) from error

    def get_page_size(self, request: Request) -> int | None:
        asked = request.query_params.get(self.page_size_query_param)
        if asked is not None and not (asked.isascii() and asked.isdigit() and int(asked[:12]) > 0):
            raise ValidationError({"page_size": f"Give a number of rows from 1 to {self.max_page_size}."})
        return super().get_page_size(request)

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """As OpenAPI 3.1 says it; the framework's own says "nullable", which 3.1 does not know."""
        link = {"type": ["string", "null"], "format": "uri"}
        properties = {"count": {"type": "integer"}, "next": link, "previous": link, "results": schema}
        return {"type": "object", "required": list(properties), "properties": properties}
