"""Who asks: a token of a script or a signed-in session. Either leaves the membership at `request.person`."""

from dataclasses import dataclass
from typing import Any, ClassVar

from django.http import Http404
from django.utils import timezone
from rest_framework import authentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from core.models import Person, Token, User
from core.selectors.members import person_of, token_of
from core.services.tokens import mark_used

HOLDING_HEADER = "X-Holding"
NO_TOKEN = "The token is unknown, has expired or was revoked. Ask a manager for a new one."


@dataclass(frozen=True)
class Member:
    """Stands in for the user of a person who never signs in."""

    person: Person
    pk: None = None
    is_authenticated: ClassVar[bool] = True
    is_anonymous: ClassVar[bool] = False
    is_active: ClassVar[bool] = True
    is_staff: ClassVar[bool] = False
    is_superuser: ClassVar[bool] = False


def asked_holding(request: Request) -> int | None:
    """The holding that the header names, if it does.

    Raises:
        Http404: the header is no number, which is a holding that does not exist.
    """
    named = request.headers.get(HOLDING_HEADER, "").strip()
    if not named:
        return None
    if not (named.isascii() and named.isdigit() and len(named) <= 18):
        raise Http404
    return int(named)


class TokenAuthentication(authentication.BaseAuthentication):
    """`Authorization: Bearer <secret>`."""

    def authenticate(self, request: Request) -> tuple[User | Member, Token] | None:
        words = authentication.get_authorization_header(request).split()
        if not words or words[0].lower() != b"bearer":
            return None
        now = timezone.now()
        secret = words[1].decode("latin-1") if len(words) == 2 else ""
        token = token_of(secret, now) if secret.isascii() else None
        if token is None:
            raise AuthenticationFailed(NO_TOKEN)
        if asked_holding(request) not in (None, token.person.holding_id):
            raise Http404
        mark_used(token=token, now=now)
        set_person(request, token.person)
        return token.person.user or Member(token.person), token

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="api"'


class SessionAuthentication(authentication.SessionAuthentication):
    """The session of the pages, with its CSRF token.

    Of several memberships `X-Holding: <id>` picks one, or else the choice made on the pages, or else the lowest id."""

    def authenticate(self, request: Request) -> tuple[Any, None] | None:
        found = super().authenticate(request)
        if found is None:
            return None
        asked = asked_holding(request)
        chosen = getattr(request._request, "person", None) if asked is None else None
        person = chosen or person_of(found[0], asked)
        if person is None and asked is not None:
            raise Http404
        set_person(request, person)
        return found


def set_person(request: Request, person: Person | None) -> None:
    request.person = person  # type: ignore[attr-defined]


def person_behind(request: Request) -> Person:
    """The membership behind a request that `InHolding` let through."""
    person: Person = request.person  # type: ignore[attr-defined]
    return person
