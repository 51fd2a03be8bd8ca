"""Who stands behind a request: the token of a secret, the membership of a user."""

from datetime import datetime
from hashlib import sha256
from hmac import compare_digest

from core.models import Person, Token, User

PREFIX_LENGTH = 8


def digest_of(secret: str) -> str:
    """What is stored in place of a secret: its SHA-256 as 64 hexadecimal digits."""
    return sha256(secret.encode()).hexdigest()


def token_of(secret: str, now: datetime) -> Token | None:
    """The living token of `secret` with person, user and holding, or None: unknown, expired, revoked, person gone."""
    digest = digest_of(secret)
    rows = Token.objects.select_related("person__user", "person__holding").filter(prefix=secret[:PREFIX_LENGTH])
    for token in rows:
        if compare_digest(token.sha256, digest):
            user = token.person.user
            living = token.revoked_at is None and now < token.expires_at and token.person.active
            return token if living and (user is None or user.is_active) else None
    return None


def person_of(user: User, holding_id: int | None = None) -> Person | None:
    """The user's active membership in the holding, without one named that of the lowest id; None if there is none."""
    rows = Person.objects.select_related("holding").filter(user=user, active=True).order_by("id")
    return (rows if holding_id is None else rows.filter(holding_id=holding_id)).first()
