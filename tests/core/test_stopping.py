"""Who asks not to be written to is not written to: by one click of a mail program or by a button."""

from datetime import timedelta
from typing import Any

import pytest
from django.core import signing
from django.test import Client
from django.utils import timezone

from core.checks import no_open_gateways
from core.delivery.signing import stop_address
from core.models import Event, Notice, NoticeState, Person, Way
from core.services.notices import STOPPED, Swept, sweep
from tests.core.test_notices import Box, notice

pytestmark = pytest.mark.django_db


@pytest.fixture
def way(helper_person: Person) -> Way:
    return Way.objects.create(
        holding=helper_person.holding, person=helper_person, kind="mail", address="ada@example.org"
    )


def path_of(way: Way, settings: Any) -> str:
    settings.BASE_URL = "https://farm.example.org/"
    return stop_address(way.pk, way.address).removeprefix("https://farm.example.org")


def test_looking_stops_nothing_and_shows_a_button(way: Way, settings: Any) -> None:
    answer = Client().get(path_of(way, settings))
    assert answer.status_code == 200
    assert b"<button>Stop them</button>" in answer.content
    assert b"ada@example.org" not in answer.content
    way.refresh_from_db()
    assert way.stopped_at is None


def test_one_click_of_a_mail_program_stops_the_way_without_cookie_or_redirect(way: Way, settings: Any) -> None:
    client = Client(enforce_csrf_checks=True)
    answer = client.post(
        path_of(way, settings), "List-Unsubscribe=One-Click", content_type="application/x-www-form-urlencoded"
    )
    assert answer.status_code == 200
    way.refresh_from_db()
    assert way.stopped_at is not None
    assert Event.objects.filter(verb="stopped", object="way", object_id=way.pk).count() == 1
    first = way.stopped_at
    assert client.post(path_of(way, settings)).status_code == 200
    way.refresh_from_db()
    assert (way.stopped_at, Event.objects.filter(verb="stopped").count()) == (first, 1)


def test_what_waits_for_a_stopped_way_is_withdrawn_and_nothing_goes(way: Way, settings: Any) -> None:
    person = way.person
    waits = notice(person, way=way, way_kind="mail")
    parked = notice(person, way=way, way_kind="mail", state=NoticeState.PARKED)
    other = notice(person)
    Client().post(path_of(way, settings))
    states = dict(Notice.objects.values_list("pk", "state"))
    assert (states[waits.pk], states[parked.pk], states[other.pk]) == ("withdrawn", "withdrawn", "queued")
    box = Box()
    late = notice(person, way=way, way_kind="mail")
    assert sweep(sender_for=box).sent == 1
    assert [message.id for message in box.messages] == [other.message_id]
    late.refresh_from_db()
    assert late.state == NoticeState.WITHDRAWN


def test_what_was_claimed_when_the_way_was_stopped_is_not_sent_any_more(way: Way) -> None:
    row = notice(
        way.person,
        way=way,
        way_kind="mail",
        state=NoticeState.CLAIMED,
        claimed_until=timezone.now() - timedelta(seconds=1),
    )
    Way.objects.update(stopped_at=timezone.now())
    box = Box()
    assert sweep(sender_for=box) == Swept(withdrawn=1)
    row.refresh_from_db()
    assert (box.messages, row.state, row.last_error) == ([], NoticeState.WITHDRAWN, STOPPED)


@pytest.mark.parametrize("signed", ["x", "1-abc", "1-abc:def", "x" * 5000, "é", signing.Signer(salt="x").sign("1-a")])
def test_an_address_that_nobody_signed_stops_nothing(signed: str, way: Way) -> None:
    for method in ("get", "post"):
        assert getattr(Client(), method)(f"/stop/{signed}/").status_code == 404
    way.refresh_from_db()
    assert way.stopped_at is None


def test_an_old_address_does_not_stop_who_has_the_way_now(way: Way, settings: Any) -> None:
    path = path_of(way, settings)
    Way.objects.update(address="ben@example.org")
    assert Client().post(path).status_code == 404
    way.refresh_from_db()
    assert way.stopped_at is None


def test_production_refuses_gateways_past_the_rules(settings: Any) -> None:
    settings.PRODUCTION, settings.WEBHOOK_ALLOW = True, ["gateway.lan:8080"]
    assert [error.id for error in no_open_gateways()] == ["readyground.E001"]
    settings.WEBHOOK_ALLOW = []
    assert no_open_gateways() == []
    settings.PRODUCTION, settings.WEBHOOK_ALLOW = False, ["gateway.lan:8080"]
    assert no_open_gateways() == []
