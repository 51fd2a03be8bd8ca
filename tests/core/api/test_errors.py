"""Every error is problem+json with its facts and without insides."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.db import DataError, IntegrityError, OperationalError
from django.http import Http404
from django.test import Client
from rest_framework import exceptions

from core.api.errors import MEDIA_TYPE, TYPE, handle
from core.errors import NotAllowed, NotFound, Refused
from core.models import Person
from tests.core.world import script_of

CASES: list[tuple[Exception, int, str]] = [
    (Refused("No.", code="invalid", field="name"), 400, "invalid"),
    (Refused("No."), 422, "refused"),
    (Refused("No.", code="cycle"), 409, "cycle"),
    (Refused("No.", code="in_use"), 409, "in_use"),
    (NotAllowed("No."), 403, "not_allowed"),
    (NotFound(), 404, "not_found"),
    (Http404("plot 7 of holding 3"), 404, "not_found"),
    (PermissionDenied("No."), 403, "not_allowed"),
    (exceptions.NotAuthenticated(), 401, "not_authenticated"),
    (exceptions.MethodNotAllowed("PUT"), 405, "method_not_allowed"),
    (exceptions.UnsupportedMediaType("text/csv"), 415, "unsupported_media_type"),
    (exceptions.Throttled(wait=7), 429, "throttled"),
    (RequestDataTooBig(), 413, "too_large"),
    (RecursionError("maximum recursion depth"), 400, "invalid"),
    (OverflowError("Python int too large to convert to SQLite INTEGER"), 400, "invalid"),
    (DataError("value out of range for type bigint"), 400, "invalid"),
    (IntegrityError("UNIQUE constraint failed: core_person.name"), 409, "conflict"),
    (OperationalError("database is locked"), 503, "busy"),
    (OperationalError("database or disk is full"), 507, "disk_full"),
    (ZeroDivisionError("secret insides"), 500, "fault"),
]


@pytest.mark.parametrize(("error", "status", "code"), CASES)
def test_error_becomes_a_problem(error: Exception, status: int, code: str) -> None:
    answer = handle(error, {})
    assert (answer.status_code, answer.content_type) == (status, MEDIA_TYPE)
    body = answer.data
    assert set(body) >= {"type", "title", "status", "detail", "instance", "errors"}
    assert (body["status"], body["type"]) == (status, TYPE + code)
    for inside in ("insides", "core_person", "SQLite", "bigint", "locked", "recursion", "holding 3"):
        assert inside not in str(body)


def test_refusal_carries_its_facts_and_its_field() -> None:
    body = handle(Refused("Too wide.", code="invalid", field="width_ft", widest_ft=200), {}).data
    assert body["detail"] == "Too wide."
    assert body["facts"] == {"widest_ft": 200}
    assert body["errors"] == [{"pointer": "#/width_ft", "code": "invalid", "detail": "Too wide."}]


def test_every_wrong_field_is_listed_with_its_pointer() -> None:
    error = exceptions.ValidationError({"name": ["Give one."], "members": {"0": ["No number."]}})
    body: dict[str, Any] = handle(error, {}).data
    assert [wrong["pointer"] for wrong in body["errors"]] == ["#/name", "#/members/0"]
    assert body["detail"] == "2 things are wrong; `errors` lists them."


def test_wait_is_told_in_the_header() -> None:
    assert handle(exceptions.Throttled(wait=7), {})["Retry-After"] == "7"
    assert handle(OperationalError("database is locked"), {})["Retry-After"] == "5"


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/api/nothing/", "/api/", "/api/plots/x/", "/api/plots/" + "9" * 400 + "/"])
def test_unknown_address_under_the_api_is_json(path: str, manager: Person) -> None:
    answer = script_of(manager).get(path)
    assert (answer.status_code, answer["Content-Type"]) == (404, MEDIA_TYPE)
    assert answer.json()["instance"] == path


@pytest.mark.django_db
def test_unknown_page_stays_a_page() -> None:
    answer = Client().get("/nothing/")
    assert (answer.status_code, answer["Content-Type"].split(";")[0]) == (404, "text/html")


@pytest.mark.django_db
def test_other_media_types_are_refused(manager: Person) -> None:
    script = script_of(manager)
    sent = script.post("/api/skills/", "name=saw", content_type="application/x-www-form-urlencoded")
    assert (sent.status_code, sent["Content-Type"]) == (415, MEDIA_TYPE)
    asked = script.get("/api/skills/", headers={"Accept": "text/html"})
    assert (asked.status_code, asked["Content-Type"]) == (406, MEDIA_TYPE)
