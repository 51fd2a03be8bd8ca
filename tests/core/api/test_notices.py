"""Reminders that were given up: shown to the manager, and sent again once what parked them is put right."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from core.delivery import Temporary
from core.delivery.signing import key_of
from core.models import Holding, Notice, NoticeState, Person, Way
from core.services.notices import Swept, sweep
from tests.core.test_notices import Box, failing, notice
from tests.core.world import script_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def parked(helper_person: Person) -> Notice:
    row = notice(helper_person, state=NoticeState.PARKED, attempts=8, last_error="The mail server refused it (550).")
    notice(helper_person, state=NoticeState.SENT, sent_at=timezone.now())
    return row


def test_a_manager_sees_what_was_given_up_and_why(parked: Notice, manager: Person) -> None:
    (shown,) = script_of(manager).get("/api/notices/?state=parked").json()["results"]
    assert (shown["id"], shown["last_error"]) == (parked.pk, "The mail server refused it (550).")


def test_sent_again_it_goes_under_the_same_id(parked: Notice, manager: Person) -> None:
    answer = script_of(manager).post(f"/api/notices/{parked.pk}/send-again/")
    assert (answer.status_code, answer.json()["state"], answer.json()["attempts"]) == (200, "queued", 0)
    box = Box()
    assert sweep(sender_for=box) == Swept(sent=1)
    assert box.messages[0].id == parked.message_id
    assert script_of(manager).post(f"/api/notices/{parked.pk}/send-again/").json()["state"] == "sent"


def test_nobody_writes_a_reminder_by_hand(manager: Person) -> None:
    assert script_of(manager).post("/api/notices/", {"kind": "x"}, format="json").status_code == 405


def test_the_work_page_counts_them_for_managers_alone(
    parked: Notice, manager: Person, helper_person: Person, signed_in: Callable[[Person], Client]
) -> None:
    assert b"1 reminder</a> could not be sent and waits for a look" in signed_in(manager).get("/by-property/").content
    assert b"could not be sent" not in signed_in(helper_person).get("/by-property/").content


def test_a_manager_is_shown_the_key_of_a_way_and_another_address_has_another(manager: Person, holding: Holding) -> None:
    way = Way.objects.create(holding=holding, person=manager, kind="webhook", address="https://a.example.org/")
    answer = script_of(manager).post(f"/api/ways/{way.pk}/key/")
    assert (answer.status_code, answer["Cache-Control"]) == (200, "no-store")
    assert answer.json() == {"key": key_of(way.pk, "https://a.example.org/")}
    assert script_of(manager, "read").post(f"/api/ways/{way.pk}/key/").status_code == 403
    Way.objects.update(address="https://b.example.org/")
    assert script_of(manager).post(f"/api/ways/{way.pk}/key/").json() != answer.json()


def test_a_pause_that_a_gateway_asked_for_is_kept(helper_person: Person) -> None:
    row, before = notice(helper_person), timezone.now()
    assert sweep(sender_for=failing(Temporary("Later.", after=timedelta(minutes=10)))) == Swept(again=1)
    row.refresh_from_db()
    assert row.claimed_until >= before + timedelta(minutes=10)
