"""Who stands behind a request: the token of a secret, the membership of a user."""

from datetime import datetime
from hashlib import sha256
from hmac import compare_digest
from typing import Any

from django.db import models

from core.models import Holding, Person, Token, User
from core.selectors.prepared import Given, Prepared

PREFIX_LENGTH = 8

_PARTS: tuple[tuple[type[models.Model], str], ...] = (
    (Token, ""),
    (Person, "person__"),
    (Holding, "person__holding__"),
    (User, "person__user__"),
)
_NAMES = [[field.attname for field in model._meta.concrete_fields] for model, _ in _PARTS]
_COLUMNS = [way + name for (_, way), names in zip(_PARTS, _NAMES, strict=True) for name in names]
_TOKENS = Prepared(
    lambda: Token.objects.filter(prefix=Given("prefix", models.CharField())).order_by("id").values_list(*_COLUMNS)
)


def digest_of(secret: str) -> str:
    """What is stored in place of a secret: its SHA-256 as 64 hexadecimal digits."""
    return sha256(secret.encode()).hexdigest()


def token_of(secret: str, now: datetime) -> Token | None:
    """The living token of `secret` with person, user and holding, or None: unknown, expired, revoked, person gone."""
    digest = digest_of(secret)
    for row in _TOKENS.rows(prefix=secret[:PREFIX_LENGTH]):
        token = _token(row)
        if compare_digest(token.sha256, digest):
            user = token.person.user
            living = token.revoked_at is None and now < token.expires_at and token.person.active
            return token if living and (user is None or user.is_active) else None
    return None


def _token(row: tuple[Any, ...]) -> Token:
    """The token of a row of `_COLUMNS`, with what stands behind it at hand."""
    made: list[Any] = []
    start = 0
    for (model, _), names in zip(_PARTS, _NAMES, strict=True):
        values = row[start : start + len(names)]
        made.append(None if values[0] is None else model.from_db("default", names, values))
        start += len(names)
    token: Token = made[0]
    person, holding, user = made[1:]
    Token.person.field.set_cached_value(token, person)
    Person.holding.field.set_cached_value(person, holding)
    Person.user.field.set_cached_value(person, user)
    return token


def person_of(user: User, holding_id: int | None = None) -> Person | None:
    """The user's active membership in the holding, without one named that of the lowest id; None if there is none."""
    rows = Person.objects.select_related("holding").filter(user=user, active=True).order_by("id")
    return (rows if holding_id is None else rows.filter(holding_id=holding_id)).first()
