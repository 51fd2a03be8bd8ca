"""The OpenAPI document and its page."""

import re
from functools import cache
from io import StringIO
from typing import Any

import pytest
import yaml
from django.core.management import call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse
from jsonschema import Draft202012Validator

from tests.core.addresses import patterns
from tests.core.rows import ROWS
from tests.core.world import World


@cache
def document() -> dict[str, Any]:
    out = StringIO()
    call_command("spectacular", "--validate", "--fail-on-warn", stdout=out)
    found: dict[str, Any] = yaml.safe_load(out.getvalue())
    return found


def operations(name: str) -> dict[str, Any]:
    """What the document says of a route, by method in small letters."""
    addresses = {str(entry.name): address for address, entry in patterns()}
    wanted = "/" + re.sub(r"<[^>]+>", "{}", addresses[name])
    paths = {re.sub(r"{[^}]+}", "{}", path): found for path, found in document()["paths"].items()}
    found: dict[str, Any] = paths[wanted]
    return found


@pytest.mark.parametrize("name", sorted(name for name in ROWS if name not in ("schema", "api-docs")))
def test_answers_are_those_that_the_document_describes(name: str, world: World) -> None:
    row, described = ROWS[name], operations(name)
    assert {method.lower() for method in row.methods} == set(described) & {"get", "post", "put", "patch", "delete"}
    for method in row.methods:
        responses = described[method.lower()]["responses"]
        checked = set()
        for asker, client in world.clients.items():
            with transaction.atomic():
                body = row.body[method](world.home) if method in row.body else None
                url = reverse(name, kwargs=dict(row.url(world.home)))
                answer = getattr(client, method.lower())(url, body, format=None if method == "GET" else row.sends)
                transaction.set_rollback(True)
            told = responses[str(answer.status_code)]
            if (answer.status_code, asker == "helper") in checked:
                continue
            checked.add((answer.status_code, asker == "helper"))
            for media_type, content in told.get("content", {}).items():
                assert answer["Content-Type"] == media_type
                schema = {**content["schema"], "components": document()["components"]}
                wrong = [error.message for error in Draft202012Validator(schema).iter_errors(answer.json())]
                assert not wrong, (method, asker, wrong)


def test_document_is_valid_and_names_a_problem_for_every_operation() -> None:
    found = document()
    assert found["openapi"] == "3.1.1"
    checked = 0
    for path, methods in found["paths"].items():
        for method, operation in methods.items():
            if method not in ("get", "post", "patch", "delete", "put"):
                continue
            problems = [code for code in operation["responses"] if code >= "400"]
            assert problems, f"{method} {path}"
            if path == "/api/inbound/":
                assert "401" in problems  # who sends is told by a signature, and has no role
            elif path != "/api/health/":
                assert {"401", "403"} <= set(problems) or path in ("/api/schema/", "/api/docs/")
            checked += 1
    assert checked > len(ROWS)


def test_problem_is_described_as_it_is_answered() -> None:
    problem = document()["components"]["schemas"]["Problem"]
    assert set(problem["required"]) == {"type", "title", "status", "detail", "instance", "errors"}


@pytest.mark.django_db
def test_page_loads_nothing_from_elsewhere_and_runs_no_script_of_its_own() -> None:
    answer = Client().get("/api/docs/")
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "https://" not in page
    assert "//cdn" not in page
    scripts = [tag.split(">")[0] for tag in page.split("<script")[1:]]
    assert scripts
    assert all("src=" in tag for tag in scripts)
    policy = answer["Content-Security-Policy"]
    assert "script-src" not in policy or "'unsafe-inline'" not in policy.split("script-src")[1].split(";")[0]
    assert "default-src 'self'" in policy


def test_document_tells_what_conditional_requests_ask_and_answer() -> None:
    checked = 0
    for name, row in ROWS.items():
        for method in ("PATCH", "DELETE"):
            if method not in row.methods:
                continue
            told = operations(name)[method.lower()]
            (header,) = [each for each in told["parameters"] if each["in"] == "header"]
            assert (header["name"], header["required"]) == ("If-Match", True)
            assert {"412", "428"} <= set(told["responses"])
            shown = operations(name)["get"]
            assert "If-None-Match" in [each["name"] for each in shown["parameters"]]
            assert "content" not in shown["responses"]["304"]
            assert "ETag" in shown["responses"]["200"]["headers"]
            checked += 1
    assert checked >= 50
    assert "If-Match" in operations("job-call-off")["post"]["description"]
    assert "412" not in operations("job-call-off")["post"]["responses"]
