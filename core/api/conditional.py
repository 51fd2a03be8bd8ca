"""Conditional requests (RFC 9110, section 13): who changes or removes a row says which state of it was read.

The entity tag is a hash of the representation that the asker is shown, so a changed derived value is another state.
"""

import hashlib
import re
from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec

from django.db import transaction
from rest_framework.request import Request
from rest_framework.response import Response

from core.api.authentication import person_behind
from core.api.rendering import dump
from core.errors import Refused
from core.services.facts import lock_graph

P = ParamSpec("P")

ASKED = frozenset({"PUT", "PATCH", "DELETE"})
"""Methods that name what was read. A POST that changes a row says what happens, whatever the row was."""

NOT_SAID = (
    "Say which state you change: read it, and send its ETag as If-Match. If-Match: * means whatever it is now."
    " Nothing was stored."
)
CHANGED = "It was changed after you read it. Read it again, then change it. Nothing was stored."

_TAG = re.compile(r'(W/)?"([\x21\x23-\x7e\x80-\xff]*)"')


def tag_of(shown: Any) -> str:
    """The strong entity tag of what is shown."""
    return f'"{hashlib.sha256(dump(shown)).hexdigest()}"'


def check_match(request: Request, tag: str) -> None:
    """Let a change through that names this tag; a weak tag never matches.

    Raises:
        Refused: no state is named (`no_match_given`), or another than this (`changed_meanwhile`).
    """
    said = request.headers.get("If-Match")
    if said is None:
        raise Refused(NOT_SAID, code="no_match_given")
    if said.strip() != "*" and tag not in {found.group() for found in _TAG.finditer(said)}:
        raise Refused(CHANGED, code="changed_meanwhile", etag=tag)


def answered(request: Request, shown: Any, status: int = 200) -> Response:
    """The representation with its tag; 304 without a body if the asker has it already."""
    tag = tag_of(shown)
    said = request.headers.get("If-None-Match", "")
    known = {f'"{found.group(2)}"' for found in _TAG.finditer(said)}
    if request.method in ("GET", "HEAD") and (said.strip() == "*" or tag in known):
        return Response(status=304, headers={"ETag": tag})
    return Response(shown, status=status, headers={"ETag": tag})


def in_turn(change: Callable[P, Response]) -> Callable[P, Response]:
    """Do a change of a holding's row under the lock that every write of its facts takes, so that nothing is written
    between the look at the tag and the change. The body is read before, for a slow sender must not hold the lock."""

    @wraps(change)
    def locked(*args: P.args, **kwargs: P.kwargs) -> Response:
        request: Any = args[1]
        _ = request.data
        with transaction.atomic():
            lock_graph(person_behind(request).holding_id)
            return change(*args, **kwargs)

    return locked
