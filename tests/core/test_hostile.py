"""No body, value or parameter breaks the program, whatever the route; each is refused in plain words."""

from typing import Any

import pytest
from django.db import transaction
from django.urls import reverse

from tests.core.addresses import view_of
from tests.core.rows import ROWS
from tests.core.world import World


def deep(levels: int) -> bytes:
    return b'{"a":' * levels + b"1" + b"}" * levels


HOSTILE_BODIES: dict[str, bytes] = {
    "nested 100,000 deep": deep(100_000),
    "nested 900 deep": deep(900),
    "nested 40 deep": deep(40),
    "lists 100,000 deep": b"[" * 100_000,
    "integer of 400 digits": b'{"name": ' + b"9" * 400 + b"}",
    "integer of 5,000 digits": b'{"name": ' + b"9" * 5000 + b"}",
    "no number": b'{"name": NaN}',
    "no end": b'{"name": Infinity}',
    "too large a number": b'{"name": 1e999}',
    "lone surrogate": b'{"name": "\\ud800"}',
    "a name twice": b'{"name": "a", "name": "b"}',
    "bad UTF-8": b'{"name": "\xff\xfe"}',
    "nothing": b" ",
    "a list": b"[]",
    "a word": b'"word"',
    "null": b"null",
    "cut off": b'{"name": "a',
    "3 MB": b'{"name": "' + b"a" * 3_000_000 + b'"}',
}


def written_routes() -> list[str]:
    return sorted(name for name, row in ROWS.items() if {"POST", "PATCH"} & row.methods.keys())


@pytest.mark.parametrize("name", written_routes())
def test_hostile_body_is_refused_in_plain_words(name: str, world: World) -> None:
    row, client = ROWS[name], world.clients["manager"]
    for method in sorted({"POST", "PATCH"} & row.methods.keys()):
        for what, body in HOSTILE_BODIES.items():
            url = reverse(name, kwargs=dict(row.url(world.home)))
            answer = client.generic(method, url, body, content_type="application/json")
            expected = 415 if row.sends != "json" else 413 if what == "3 MB" else 400
            assert answer.status_code == expected, what
            assert answer["Content-Type"] == "application/problem+json"
            assert len(answer.content) < 1000, "the body is not sent back"


HOSTILE_VALUES: tuple[Any, ...] = (
    2**62,
    -(2**62),
    1e300,
    -1,
    True,
    None,
    "",
    "\x00",
    "a\r\nBcc: b",
    "9" * 5000,
    "0001-01-01",
    "9999-12-31T23:59:59-23:59",
    [{}],
    {"type": "Polygon", "coordinates": [[[1e300, 1e300]]]},
)


def serialized_writes() -> list[str]:
    """The routes that add, and those that change what nothing adds."""
    names = [name for name in written_routes() if hasattr(view_of(name), "serializer_class")]
    return [name for name in names if name.replace("-detail", "-list") not in names or name.endswith("-list")]


@pytest.mark.parametrize("name", serialized_writes())
def test_no_value_of_any_field_breaks_the_program(name: str, world: World) -> None:
    row, client = ROWS[name], world.clients["manager"]
    method = "POST" if "POST" in row.methods else "PATCH"
    url = reverse(name, kwargs=dict(row.url(world.home)))
    fields = view_of(name).serializer_class().fields
    tried = 0
    for field_name in [key for key, bound in fields.items() if not bound.read_only]:
        for value in HOSTILE_VALUES:
            with transaction.atomic():
                body = {**row.body[method](world.home), field_name: value}
                answer = getattr(client, method.lower())(url, body, format="json")
                transaction.set_rollback(True)
            assert answer.status_code < 500, (field_name, value, answer.content)
            tried += 1
    assert tried or name == "token-list"


HOSTILE_QUERIES = (
    "9" * 400,
    "-1",
    "0",
    "\x00",
    "nan",
    "1e400",
    "٣",
    "2026-99-99",
    "0001-01-01T00:00:00+23:59",
    "",
    "%ff",
)


@pytest.mark.parametrize("name", sorted(name for name, row in ROWS.items() if row.thing and not row.detail))
def test_no_value_of_any_filter_breaks_the_program(name: str, world: World) -> None:
    client = world.clients["manager"]
    view = view_of(name)
    chosen = view.filter_backends[0]().get_filterset_class(view, view.queryset)
    for parameter in [*(chosen.base_filters if chosen else ()), "page", "page_size"]:
        for value in HOSTILE_QUERIES:
            answer = client.get(reverse(name), {parameter: value})
            assert answer.status_code in (200, 400, 404), (parameter, value, answer.content)


@pytest.mark.parametrize("name", sorted(name for name, row in ROWS.items() if row.thing and not row.detail))
def test_filter_that_is_not_known_is_refused_by_name(name: str, world: World) -> None:
    answer = world.clients["manager"].get(reverse(name), {"poperty": "1"})
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["pointer"] == "#/poperty"
