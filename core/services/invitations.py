"""Invitations: a single-use link by which a person of the holding comes to sign in."""

import hashlib
import secrets
from datetime import datetime, timedelta

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from core.errors import NotAllowed, NotFound, Refused
from core.models import Invitation, Person, Role, User
from core.services.facts import lock_graph
from core.services.rows import log, save_row

VALID_FOR = timedelta(days=7)
GONE = "This invitation is used up, older than seven days or mistyped. Ask the manager for a new one."


def invite(*, person: Person, by: Person | None, now: datetime | None = None) -> str:
    """Make a new invitation and return its secret, which is stored as a hash only. Older unused ones end.

    Raises:
        NotAllowed: `by` does not manage the person's holding.
        Refused: the person signs in already, or is not active.
    """
    now = now or timezone.now()
    if by is not None and (by.holding_id != person.holding_id or by.role != Role.MANAGER):
        raise NotAllowed("Only a manager invites.")
    secret = secrets.token_urlsafe(32)
    with transaction.atomic():
        lock_graph(person.holding_id)
        person.refresh_from_db(fields=["user", "active"])
        if person.user_id is not None:
            raise Refused(f"{person.name} signs in already.", code="has_user")
        if not person.active:
            raise Refused(f"{person.name} is not active. Make them active first.", code="not_active")
        Invitation.objects.filter(person=person, used_at=None).delete()
        row = Invitation.objects.create(
            holding_id=person.holding_id, person=person, sha256=_hashed(secret), expires_at=now + VALID_FOR
        )
        log(holding_id=person.holding_id, by=by, verb="invited", row=row, change={"person": person.pk})
    return secret


def link_of(secret: str) -> str:
    """The address that the invited person opens."""
    base: str = settings.BASE_URL
    return base.rstrip("/") + reverse("invitation", kwargs={"secret": secret})


def read(*, secret: str, now: datetime | None = None) -> Invitation:
    """The open invitation of this secret.

    Raises:
        NotFound: there is none, or it is used or too old; which of these is not said.
    """
    row = (
        Invitation.objects.select_related("person", "holding")
        .filter(
            sha256=_hashed(secret),
            used_at=None,
            expires_at__gt=now or timezone.now(),
            person__active=True,
            person__user=None,
        )
        .first()
    )
    if row is None:
        raise NotFound(GONE)
    return row


def accept(*, secret: str, user: User, now: datetime | None = None) -> Person:
    """Let a user that signs in already be the invited person, once.

    Raises:
        NotFound: as `read`.
        Refused: the user is another person of the holding already.
    """
    now = now or timezone.now()
    with transaction.atomic():
        row = read(secret=secret, now=now)
        if not Invitation.objects.filter(pk=row.pk, used_at=None, expires_at__gt=now).update(used_at=now):
            raise NotFound(GONE)
        person = row.person
        person.user = user
        save_row(row=person, by=person, fields=["user"])
    return person


def join(*, secret: str, email: str, password: str, now: datetime | None = None) -> Person:
    """Make a new user with this address and password and let them be the invited person, once.

    Raises:
        NotFound: as `read`.
        Refused: the address is no address or signs in already, or the password is too weak.
    """
    email = email.strip().lower()
    with transaction.atomic():
        read(secret=secret, now=now)
        try:
            validate_email(email)
        except ValidationError as error:
            raise Refused("Give a mail address like name@example.org.", code="invalid", field="email") from error
        if User.objects.filter(email__iexact=email).exists():
            raise _taken()
        try:
            validate_password(password, User(email=email))
        except ValidationError as error:
            raise Refused(" ".join(error.messages), code="invalid", field="password") from error
        try:
            user = User.objects.create_user(email, password)
        except IntegrityError as error:  # another browser with this address was quicker
            raise _taken() from error
        return accept(secret=secret, user=user, now=now)


def _taken() -> Refused:
    sentence = "This address signs in already. Sign in with it first, then open the invitation again."
    return Refused(sentence, code="has_user", field="email")


def _hashed(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
