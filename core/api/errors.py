"""Every error as RFC 9457 `application/problem+json`, with the facts and without insides."""

import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation
from django.core.signals import got_request_exception
from django.db import DataError, IntegrityError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.http.multipartparser import MultiPartParserError
from django.views import defaults
from drf_standardized_errors.formatter import flatten_errors
from rest_framework import exceptions
from rest_framework.response import Response

from core.api.rendering import dump
from core.errors import Refused

MEDIA_TYPE = "application/problem+json"
TYPE = "tag:readyground.example.org,2026:problem/"

STATUS_OF_CODE = {
    "invalid": 400,
    "not_allowed": 403,
    "not_found": 404,
    "in_use": 409,
    "cycle": 409,
    "contradiction": 409,
    "conflict": 409,
    "changed_meanwhile": 412,
    "no_match_given": 428,
}
"""What a service's code means in HTTP; every other code is 422: understood, and refused by a rule."""

NOT_FOUND = "Not found in this holding."
TOO_LARGE = "The body is too large. Send it in smaller parts."
BROKEN = "Something broke here. It is logged; try again, and tell the operator if it stays."


def problem(
    status: int,
    code: str,
    detail: str,
    instance: str,
    errors: list[dict[str, str]] | None = None,
    facts: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """The body of one problem. `code` names its type for scripts, `facts` carries ids and figures."""
    body: dict[str, Any] = {
        "type": TYPE + code,
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "instance": instance,
        "errors": errors or [],
    }
    if facts:
        body["facts"] = dict(facts)
    return body


def pointer(attr: str | None) -> str:
    """`a.0.b` as the JSON pointer `#/a/0/b`; the whole body is `#`."""
    return "#" if not attr or attr == "non_field_errors" else "#/" + attr.replace(".", "/")


def described(exc: Exception) -> tuple[int, str, str, list[dict[str, str]], Mapping[str, Any]] | None:
    """(status, code, sentence, errors, facts) of what can go wrong with a request; None for a fault of ours."""
    if isinstance(exc, Refused):
        errors = [{"pointer": pointer(exc.field), "code": exc.code, "detail": exc.sentence}] if exc.field else []
        return STATUS_OF_CODE.get(exc.code, 422), exc.code, exc.sentence, errors, exc.facts
    if isinstance(exc, exceptions.ValidationError):
        listed = [
            {"pointer": pointer(e.attr), "code": e.code or "invalid", "detail": e.detail}
            for e in flatten_errors(exc.detail)
        ]
        first = listed[0]["detail"] if len(listed) == 1 else f"{len(listed)} things are wrong; `errors` lists them."
        return 400, "invalid", first, listed, {}
    if isinstance(exc, Http404 | exceptions.NotFound):
        return 404, "not_found", NOT_FOUND, [], {}
    if isinstance(exc, PermissionDenied):
        return 403, "not_allowed", str(exc) or "This is not allowed.", [], {}
    if isinstance(exc, exceptions.APIException):
        code = exc.get_codes()
        return exc.status_code, code if isinstance(code, str) else exc.default_code, str(exc.detail), [], {}
    if isinstance(exc, RequestDataTooBig):
        return 413, "too_large", TOO_LARGE, [], {}
    if isinstance(exc, SuspiciousOperation | MultiPartParserError):
        return 400, "invalid", "The request is malformed.", [], {}
    if isinstance(exc, RecursionError):
        return 400, "invalid", "The body is nested too deeply.", [], {}
    if isinstance(exc, OverflowError | DataError):
        return 400, "invalid", "A value is too large for its field.", [], {}
    if isinstance(exc, IntegrityError):
        return 409, "conflict", "It clashes with something that is stored. Read it again, then try again.", [], {}
    if isinstance(exc, OperationalError) and _disk_is_full(exc):
        return 507, "disk_full", "The server's disk is full. Nothing was stored. Tell the operator.", [], {}
    if isinstance(exc, OperationalError):
        return 503, "busy", "The database is busy. Nothing was stored; try again in a few seconds.", [], {}
    return None


def _disk_is_full(error: OperationalError) -> bool:
    """SQLite says it in words, PostgreSQL by a class of its own (53100)."""
    return "disk is full" in str(error) or getattr(error.__cause__, "sqlstate", None) == "53100"


def handle(exc: Exception, context: dict[str, Any]) -> Response:
    """The exception handler of every API view."""
    request = context.get("request")
    instance = request.path if request is not None else ""
    found = described(exc)
    if found is None or found[0] >= 500:
        logging.getLogger("django.request").error("API view failed", exc_info=exc)
    if found is None:
        got_request_exception.send(sender=None, request=getattr(request, "_request", None))
        found = 500, "fault", BROKEN, [], {}
    status, code, detail, errors, facts = found
    headers = {}
    if getattr(exc, "auth_header", None):
        headers["WWW-Authenticate"] = exc.auth_header  # type: ignore[attr-defined]
    if getattr(exc, "wait", None):
        headers["Retry-After"] = str(int(exc.wait))  # type: ignore[attr-defined]
    if status == 503:
        headers["Retry-After"] = "5"
    body = problem(status, code, detail, instance, errors, facts)
    return Response(body, status=status, headers=headers, content_type=MEDIA_TYPE)


def plain(request: HttpRequest, status: int, code: str, detail: str) -> HttpResponse:
    """A problem outside any API view."""
    return HttpResponse(dump(problem(status, code, detail, request.path)), status=status, content_type=MEDIA_TYPE)


def in_api(request: HttpRequest) -> bool:
    return request.path_info.startswith("/api/")


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """handler400: problem+json under /api/, the plain page elsewhere."""
    if not in_api(request):
        return defaults.bad_request(request, exception)
    if isinstance(exception, RequestDataTooBig):
        return plain(request, 413, "too_large", TOO_LARGE)
    return plain(request, 400, "invalid", "The request is malformed.")


def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    """handler403."""
    if not in_api(request):
        return defaults.permission_denied(request, exception)
    return plain(request, 403, "not_allowed", "This is not allowed.")


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """handler404."""
    if not in_api(request):
        return defaults.page_not_found(request, exception)
    return plain(request, 404, "not_found", NOT_FOUND)


def server_error(request: HttpRequest) -> HttpResponse:
    """handler500."""
    if not in_api(request):
        return defaults.server_error(request)
    return plain(request, 500, "fault", BROKEN)
