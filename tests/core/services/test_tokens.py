"""A token's secret is shown once, opens until it ends, and is stored as a hash."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from core.errors import NotAllowed, Refused
from core.models import Event, Person, Token
from core.selectors.members import token_of
from core.services.tokens import make_token, revoke_token

pytestmark = pytest.mark.django_db


def test_secret_is_256_bits_and_stored_nowhere(manager: Person) -> None:
    token, secret = make_token(person=manager, by=manager, name="script")
    assert len(secret) == 43  # 32 bytes in base64 without padding
    stored = Token.objects.filter(pk=token.pk).values().get()
    assert secret not in str(stored)
    assert secret not in str(list(Event.objects.values()))
    assert (stored["prefix"], len(stored["sha256"])) == (secret[:8], 64)


def test_two_tokens_differ(manager: Person) -> None:
    assert make_token(person=manager)[1] != make_token(person=manager)[1]


def test_secret_finds_its_token_until_it_expires(manager: Person) -> None:
    token, secret = make_token(person=manager, days=2)
    now = timezone.now()
    assert token_of(secret, now) == token
    assert token_of(secret, now + timedelta(days=1, hours=23)) == token
    assert token_of(secret, now + timedelta(days=2)) is None


def test_tokens_of_one_prefix_are_told_apart(manager: Person, helper_person: Person) -> None:
    token, secret = make_token(person=manager)
    other = make_token(person=helper_person)[0]
    Token.objects.filter(pk=other.pk).update(prefix=token.prefix)
    assert token_of(secret, timezone.now()) == token


def test_revoked_token_opens_nothing_and_keeps_its_first_time(manager: Person) -> None:
    token, secret = make_token(person=manager)
    first = revoke_token(token=token, by=manager).revoked_at
    assert token_of(secret, timezone.now()) is None
    assert revoke_token(token=token, by=manager).revoked_at == first
    assert Event.objects.filter(verb="revoked", object="token").count() == 1


@pytest.mark.parametrize("days", [0, -1, 367])
def test_life_is_one_day_to_one_year(days: int, manager: Person) -> None:
    with pytest.raises(Refused, match="1 to 366 days"):
        make_token(person=manager, days=days)


def test_kind_must_be_known(manager: Person) -> None:
    with pytest.raises(Refused, match="full, report, read"):
        make_token(person=manager, kind="root")


def test_only_the_person_or_a_manager_of_the_holding_makes_one(
    manager: Person, helper_person: Person, viewer: Person, other_manager: Person
) -> None:
    assert make_token(person=helper_person, by=helper_person)
    assert make_token(person=helper_person, by=manager)
    for stranger in (viewer, other_manager):
        with pytest.raises(NotAllowed):
            make_token(person=helper_person, by=stranger)


def test_longest_life_is_a_setting(manager: Person, settings: Any) -> None:
    settings.TOKEN_DAYS = 30
    make_token(person=manager, days=30)
    with pytest.raises(Refused, match="1 to 30 days"):
        make_token(person=manager, days=31)
