"""The OpenAPI document and its page."""

from io import StringIO

import pytest
import yaml
from django.core.management import call_command
from django.test import Client

from tests.core.rows import ROWS


def document() -> dict[str, object]:
    out = StringIO()
    call_command("spectacular", "--validate", "--fail-on-warn", stdout=out)
    found: dict[str, object] = yaml.safe_load(out.getvalue())
    return found


def test_document_is_valid_and_names_a_problem_for_every_operation() -> None:
    found = document()
    assert found["openapi"] == "3.1.1"
    checked = 0
    for path, methods in found["paths"].items():  # type: ignore[attr-defined]
        for method, operation in methods.items():
            if method not in ("get", "post", "patch", "delete", "put"):
                continue
            problems = [code for code in operation["responses"] if code >= "400"]
            assert problems, f"{method} {path}"
            if path != "/api/health/":
                assert {"401", "403"} <= set(problems) or path in ("/api/schema/", "/api/docs/")
            checked += 1
    assert checked > len(ROWS)


def test_problem_is_described_as_it_is_answered() -> None:
    problem = document()["components"]["schemas"]["Problem"]  # type: ignore[index]
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
