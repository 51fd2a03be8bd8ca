"""What the tests of news share: a Thursday in May, two people who can be told, and words for what was told."""

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from core.models import Graph, Holding, Notice, Person, Way
from jobs.models import Job, Prerequisite
from jobs.services.links import add_link
from jobs.services.reports import NewReport, store_report
from jobs.services.walking import due_holdings, walk_holding

ZONE = ZoneInfo("America/Chicago")
JobFactory = Callable[..., Job]


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZONE).astimezone(UTC)


NOON = at("2027-05-06 12:00")  # a Thursday


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    return holding_factory(zone="America/Chicago", clock_at=NOON)


@pytest.fixture(autouse=True)
def mail(manager: Person, helper_person: Person) -> None:
    """Manager and helper can be told."""
    for person in (manager, helper_person):
        Way.objects.create(holding=person.holding, person=person, kind="mail", address=f"{person.pk}@example.org")


def clock(holding: Holding, text: str) -> None:
    """The clock stands at a local time, and the worker looks if it is due."""
    holding.clock_at = at(text)
    holding.save()
    if holding.pk in due_holdings(at(text)):
        walk_holding(holding.pk)


def woken(holding: Holding, kind: str, job: Job) -> datetime:
    """Let the clock go from wake to wake until news of the kind is there; returns when that was."""
    for _ in range(400):
        if Notice.objects.filter(kind=kind, job_id=job.pk).exists():
            return holding.clock_at or NOON
        holding.clock_at = Graph.objects.get(pk=holding.pk).wake_at
        holding.save()
        walk_holding(holding.pk)
    raise AssertionError(f"no news of {kind} in 400 wakes")


def told(kind: str = "", **where: Any) -> list[tuple[str, str, str]]:
    """(person, kind, state) of the notices in the order of their writing."""
    rows = Notice.objects.filter(**where).order_by("id")
    return [
        (row.person.name.split()[0].lower(), row.kind, row.state)
        for row in rows.select_related("person")
        if kind in ("", row.kind)
    ]


def report(person: Person, job: Job, kind: str, when: str) -> None:
    new = NewReport(client_id=uuid.uuid4(), kind=kind, happened_at=at(when), job=job.pk)
    store_report(person=person, new=new, now=at(when))


def held(job_factory: JobFactory, holding: Holding, manager: Person, title: str = "Plant", **fields: Any) -> Job:
    """A job that waits for another one, so that it is not told as open."""
    first, second = job_factory(holding, f"Before {title}"), job_factory(holding, title, **fields)
    add_link(link=Prerequisite(holding=holding, predecessor=first, successor=second), by=manager)
    return second
