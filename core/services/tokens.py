"""Make and revoke the tokens of scripts."""

import secrets
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from core.errors import NotAllowed, Refused
from core.models import Person, Role, Token, TokenKind
from core.selectors.members import PREFIX_LENGTH, digest_of
from core.services.rows import log

USED_EVERY = timedelta(minutes=1)


def make_token(
    *,
    person: Person,
    kind: str = TokenKind.FULL,
    name: str = "",
    days: int = 90,
    by: Person | None = None,
    not_after: datetime | None = None,
) -> tuple[Token, str]:
    """A new token of `person` and its secret (256 random bits), which is stored nowhere and cannot be shown again.

    `by` None means the command line; `not_after` cuts the life short, for a token that is made by another token.

    Raises:
        NotAllowed: `by` is neither the person nor a manager of the same holding.
        Refused: the kind is unknown, or the life is not 1 day to `settings.TOKEN_DAYS`.
    """
    if by is not None and by.pk != person.pk and (by.role != Role.MANAGER or by.holding_id != person.holding_id):
        raise NotAllowed("A token is made by the person it belongs to or by a manager.")
    if kind not in TokenKind.values:
        raise Refused(f"Kind is one of {', '.join(TokenKind.values)}.", code="invalid", field="kind")
    longest: int = settings.TOKEN_DAYS
    if not 1 <= days <= longest:
        raise Refused(f"A token lives 1 to {longest} days.", code="invalid", field="days", longest=longest)
    secret = secrets.token_urlsafe(32)
    expires = timezone.now() + timedelta(days=days)
    with transaction.atomic():
        token = Token.objects.create(
            holding_id=person.holding_id,
            person=person,
            kind=kind,
            name=name,
            prefix=secret[:PREFIX_LENGTH],
            sha256=digest_of(secret),
            expires_at=min(expires, not_after) if not_after else expires,
        )
        change = {"person": person.pk, "kind": kind, "name": name}
        log(holding_id=token.holding_id, by=by, verb="added", row=token, change=change)
    return token, secret


def revoke_token(*, token: Token, by: Person | None) -> Token:
    """The token opens nothing from now on. Revoking twice keeps the first time."""
    with transaction.atomic():
        fresh = Token.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=timezone.now())
        if fresh:
            log(holding_id=token.holding_id, by=by, verb="revoked", row=token, change={})
    token.refresh_from_db(fields=["revoked_at"])
    return token


def mark_used(*, token: Token, now: datetime) -> None:
    """Keep when the token was last used, to the minute, so that a busy script does not write at every request."""
    stale = now - USED_EVERY
    if token.last_used_at is None or token.last_used_at < stale:
        unused = Q(last_used_at=None) | Q(last_used_at__lt=stale)
        Token.objects.filter(unused, pk=token.pk).update(last_used_at=now)
