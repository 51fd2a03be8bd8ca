"""A token or a session says who asks, in which holding."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from core.models import Holding, Person, Role, Token
from core.services.tokens import make_token
from tests.core.world import client_of, script_of

pytestmark = pytest.mark.django_db


def test_request_without_token_is_told_how_to_sign_in() -> None:
    answer = APIClient().get("/api/me/")
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == 'Bearer realm="api"'


@pytest.mark.parametrize("header", ["Bearer", "Bearer a b", "Bearer \xe9", "Bearer nonsense", "bearer " + "x" * 5000])
def test_malformed_token_is_401(header: str) -> None:
    assert APIClient().get("/api/me/", HTTP_AUTHORIZATION=header).status_code == 401


def test_secret_that_differs_after_the_prefix_is_refused(manager: Person) -> None:
    secret = make_token(person=manager)[1]
    last = "a" if secret[-1] != "a" else "b"
    assert client_of(secret).get("/api/me/").status_code == 200
    assert client_of(secret[:-1] + last).get("/api/me/").status_code == 401


def test_token_of_a_person_without_sign_in_works(holding: Holding) -> None:
    person = Person.objects.create(holding=holding, name="By phone", role=Role.HELPER)
    answer = script_of(person).get("/api/me/").json()
    assert (answer["person"], answer["role"], answer["token_kind"]) == (person.pk, "helper", "full")


def test_token_ends_with_the_person_and_with_the_user(manager: Person) -> None:
    script = script_of(manager)
    Person.objects.filter(pk=manager.pk).update(active=False)
    assert script.get("/api/me/").status_code == 401
    Person.objects.filter(pk=manager.pk).update(active=True)
    assert manager.user is not None
    type(manager.user).objects.filter(pk=manager.user.pk).update(is_active=False)
    assert script.get("/api/me/").status_code == 401


def test_last_use_is_kept_once_a_minute(manager: Person, django_assert_num_queries: Callable[..., object]) -> None:
    token, secret = make_token(person=manager)
    script = client_of(secret)
    script.get("/api/me/")
    first = Token.objects.get(pk=token.pk).last_used_at
    assert first is not None
    with django_assert_num_queries(1):
        script.get("/api/me/")
    assert Token.objects.get(pk=token.pk).last_used_at == first
    Token.objects.filter(pk=token.pk).update(last_used_at=timezone.now() - timedelta(seconds=61))
    script.get("/api/me/")
    assert Token.objects.get(pk=token.pk).last_used_at >= first


def test_token_stays_in_its_holding_whatever_the_header_says(manager: Person, other_holding: Holding) -> None:
    script = script_of(manager)
    assert script.get("/api/me/", headers={"X-Holding": str(manager.holding_id)}).status_code == 200
    for named in (str(other_holding.pk), "987654321", "x", "9" * 400):
        assert script.get("/api/me/", headers={"X-Holding": named}).status_code == 404


def test_session_of_several_holdings_picks_by_header(
    manager: Person, other_holding: Holding, signed_in: Callable[[Person], Client]
) -> None:
    second = Person.objects.create(holding=other_holding, user=manager.user, name="There too", role=Role.VIEWER)
    client = signed_in(manager)
    assert client.get("/api/me/").json()["person"] == manager.pk
    there = client.get("/api/me/", headers={"X-Holding": str(other_holding.pk)}).json()
    assert (there["person"], there["role"]) == (second.pk, "viewer")


def test_session_asks_for_a_holding_that_is_not_its_own(
    manager: Person, other_holding: Holding, signed_in: Callable[[Person], Client]
) -> None:
    client = signed_in(manager)
    foreign = client.get("/api/me/", headers={"X-Holding": str(other_holding.pk)})
    never = client.get("/api/me/", headers={"X-Holding": "987654321"})
    assert foreign.status_code == never.status_code == 404
    assert foreign.content == never.content


def test_session_needs_its_csrf_token_to_write(manager: Person) -> None:
    client = Client(enforce_csrf_checks=True)
    assert manager.user is not None
    client.force_login(manager.user, backend="django.contrib.auth.backends.ModelBackend")
    refused = client.post("/api/skills/", {"name": "saw"}, content_type="application/json")
    assert refused.status_code == 403
    assert "CSRF" in refused.json()["detail"]
    client.get("/sign-in/")
    client.cookies["csrftoken"] = "a" * 32
    good = client.post(
        "/api/skills/", {"name": "saw"}, content_type="application/json", headers={"X-CSRFToken": "a" * 32}
    )
    assert good.status_code == 201


def test_session_without_membership_is_told_so(manager: Person, signed_in: Callable[[Person], Client]) -> None:
    client = signed_in(manager)
    Person.objects.filter(pk=manager.pk).update(active=False)
    answer = client.get("/api/me/")
    assert answer.status_code == 403
    assert "invitation" in answer.json()["detail"]
