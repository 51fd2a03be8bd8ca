"""Health for a watchdog."""

from datetime import timedelta

import pytest
from django.utils import timezone

from core.models import Heartbeat, Holding, Notice, NoticeState, Person
from tests.core.world import client_of

pytestmark = pytest.mark.django_db


def beat(seconds_ago: int) -> None:
    at = timezone.now() - timedelta(seconds=seconds_ago)
    Heartbeat.objects.update_or_create(name=Heartbeat.SWEEP, defaults={"at": at})


def waiting(person: Person, seconds: int) -> None:
    due = timezone.now() - timedelta(seconds=seconds)
    Notice.objects.create(
        holding=person.holding,
        person=person,
        way_kind="file",
        kind="opened",
        basis=str(seconds),
        created_at=due,
        due_at=due,
    )


def test_good_while_the_sweep_is_young() -> None:
    beat(30)
    answer = client_of().get("/api/health/")
    assert (answer.status_code, answer.json()["status"]) == (200, "ok")
    assert 30 <= answer.json()["last_sweep_s"] <= 40


def test_late_without_any_sweep_and_after_two_minutes_without_one() -> None:
    assert client_of().get("/api/health/").status_code == 503
    beat(150)
    assert client_of().get("/api/health/").json()["status"] == "late"


def test_late_when_a_reminder_waits_too_long(manager: Person) -> None:
    beat(5)
    waiting(manager, 60)
    assert client_of().get("/api/health/").status_code == 200
    waiting(manager, 300)
    answer = client_of().get("/api/health/")
    assert answer.status_code == 503
    assert 300 <= answer.json()["oldest_due_s"] <= 310


def test_holding_whose_clock_stands_makes_nothing_late(manager: Person, holding: Holding) -> None:
    beat(5)
    Holding.objects.filter(pk=holding.pk).update(clock_at=timezone.now())
    waiting(manager, 300)
    assert client_of().get("/api/health/").status_code == 200


def test_it_names_nobody(manager: Person) -> None:
    beat(5)
    waiting(manager, 300)
    told = {"status", "last_sweep_s", "oldest_due_s", "last_walk_s", "parked"}
    assert set(client_of().get("/api/health/").json()) == told


def test_given_up_reminders_are_counted_and_are_no_lateness(manager: Person) -> None:
    beat(5)
    waiting(manager, 300)
    waiting(manager, 400)
    Notice.objects.update(state=NoticeState.PARKED)
    answer = client_of().get("/api/health/")
    assert (answer.status_code, answer.json()["parked"]) == (200, 2)
