"""Every address that the program answers, found from the resolver."""

from collections.abc import Iterator
from functools import cache
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver


def patterns(under: Any = None, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    """(address, pattern) of everything that the program answers; the admin's addresses stand together."""
    for entry in (under or get_resolver()).url_patterns:
        address = before + str(entry.pattern)
        if isinstance(entry, URLResolver) and entry.namespace is None:
            yield from patterns(entry, address)
        elif isinstance(entry, URLPattern):
            yield address, entry


@cache
def routes() -> dict[str, URLPattern]:
    return {str(entry.name): entry for address, entry in patterns() if address.startswith("api/")}


@cache
def pages() -> dict[str, str]:
    return {str(entry.name): address for address, entry in patterns() if not address.startswith("api/")}


def view_of(name: str) -> Any:
    """The view class of a route, None where it is a plain function."""
    return getattr(routes()[name].callback, "cls", None)
