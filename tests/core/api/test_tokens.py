"""Tokens by API."""

import pytest
from django.utils import timezone

from core.models import Person, Token
from core.services.tokens import make_token
from tests.core.world import World, client_of, script_of

pytestmark = pytest.mark.django_db


def test_secret_is_answered_once_and_opens(manager: Person) -> None:
    script = script_of(manager)
    made = script.post("/api/tokens/", {"name": "barn", "kind": "read", "days": 30}, format="json")
    secret = made.json()["secret"]
    assert (made.status_code, made["Cache-Control"]) == (201, "no-store")
    assert client_of(secret).get("/api/me/").json()["token_kind"] == "read"
    listed = script.get("/api/tokens/").content.decode()
    assert secret not in listed
    assert "sha256" not in listed
    assert made.json()["prefix"] in listed


def test_revoked_by_delete_it_opens_nothing_and_stays_in_the_list(manager: Person) -> None:
    script = script_of(manager)
    made = script.post("/api/tokens/", {}, format="json").json()
    assert script.delete(f"/api/tokens/{made['id']}/").status_code == 204
    assert client_of(made["secret"]).get("/api/me/").status_code == 401
    kept = script.get(f"/api/tokens/{made['id']}/").json()
    assert kept["revoked_at"] is not None


def test_token_made_by_a_token_does_not_outlive_it(manager: Person) -> None:
    first, secret = make_token(person=manager, days=3)
    made = client_of(secret).post("/api/tokens/", {"days": 300}, format="json").json()
    assert Token.objects.get(pk=made["id"]).expires_at == first.expires_at


def test_life_above_a_year_is_refused(manager: Person) -> None:
    answer = script_of(manager).post("/api/tokens/", {"days": 367}, format="json")
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "#/days")


def test_manager_makes_one_for_a_helper_and_nobody_else_does(world: World) -> None:
    body = {"person": world.home.helper.pk, "kind": "report"}
    assert world.clients["manager"].post("/api/tokens/", body, format="json").status_code == 201
    assert world.clients["viewer"].post("/api/tokens/", body, format="json").status_code == 403
    assert world.clients["helper"].post("/api/tokens/", body, format="json").status_code == 201


def test_helper_sees_and_revokes_own_tokens_alone(world: World) -> None:
    script = world.clients["helper"]
    shown = {line["person"] for line in script.get("/api/tokens/", {"page_size": "200"}).json()["results"]}
    assert shown == {world.home.helper.pk}
    managers = Token.objects.filter(person=world.home.manager, revoked_at=None, expires_at__gt=timezone.now()).first()
    assert managers is not None
    assert script.delete(f"/api/tokens/{managers.pk}/").status_code == 404
