"""Answers that come in by a gateway: who sent them, which job they are about, and each once."""

import json
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from core.delivery.signing import key_of, signature
from core.models import Holding, Notice, NoticeState, Person, Way
from jobs.models import Assignment, Job, Report
from jobs.services.inbound import MOST_AN_HOUR, NONE_SENT, STOPPED
from tests.core.world import client_of

pytestmark = pytest.mark.django_db

ADDRESS = "https://texts.example.org/to/ada"


@pytest.fixture
def way(helper_person: Person) -> Way:
    return Way.objects.create(holding=helper_person.holding, person=helper_person, kind="webhook", address=ADDRESS)


@pytest.fixture
def jobs(way: Way, job_factory: Callable[..., Job]) -> list[Job]:
    """Three jobs of the helper."""
    made = [job_factory(way.holding, title, acres=8.0) for title in ("Mow", "Till", "Drag")]
    for job in made:
        Assignment.objects.create(holding=way.holding, job=job, person=way.person)
    return made


def told(way: Way, jobs: list[Job], minutes_ago: int = 10, **fields: Any) -> Notice:
    """A message about these jobs that went this way."""
    at = timezone.now() - timedelta(minutes=minutes_ago)
    standard = {
        "holding": way.holding,
        "person": way.person,
        "way": way,
        "way_kind": way.kind,
        "kind": "evening",
        "basis": f"{minutes_ago}",
        "payload": {"title": "t", "lines": [], "jobs": [job.pk for job in jobs]},
        "created_at": at,
        "due_at": at,
        "sent_at": at,
        "state": NoticeState.SENT,
    }
    return Notice.objects.create(**(standard | fields))


def bring(
    way: Way, text: str, id: str = "m1", *, second: int | None = None, key: str | None = None, body: Any = None
) -> Any:
    """What the hook answers to a message brought by the gateway of the way."""
    second = int(time.time()) if second is None else second
    raw = json.dumps({"id": id, "address": way.address, "text": text} | (body or {})).encode()
    signed = signature(key_of(way.pk, way.address) if key is None else key, second, raw)
    headers = {"X-Readyground-Second": str(second), "X-Readyground-Signature": signed}
    return client_of().generic("POST", "/api/inbound/", raw, content_type="application/json", headers=headers)


def test_done_with_acres_is_a_report_on_the_only_job_of_the_last_message(way: Way, jobs: list[Job]) -> None:
    told(way, [jobs[1]], 60)
    told(way, [jobs[0]])
    answer = bring(way, "Done 4 ac.")
    assert (answer.status_code, answer.json()["changed"]) == (200, True)
    assert answer.json()["reply"] == f"Stored: Mow, {jobs[0].plot.name}: done, 4 ac."
    report = Report.objects.get()
    assert (report.job, report.person, report.kind, report.acres) == (jobs[0], way.person, "done", 4.0)


@pytest.mark.parametrize(
    ("text", "place", "kind", "reason", "note"),
    [
        ("1 DONE", 0, "done", "", ""),
        ("b start", 1, "start", "", ""),
        ("3 NO CHAIN BROKE", 2, "could_not", "machine", "chain broke"),
        ("2 no wind", 1, "could_not", "wind", "wind"),
        ("2 SKIP", 1, "skipped", "", ""),
    ],
)
def test_a_number_or_letter_picks_the_job_of_the_message(
    text: str, place: int, kind: str, reason: str, note: str, way: Way, jobs: list[Job]
) -> None:
    told(way, jobs)
    assert bring(way, text).json()["changed"] is True
    report = Report.objects.get()
    assert (report.job, report.kind, report.reason, report.note) == (jobs[place], kind, reason, note)


@pytest.mark.parametrize("text", ["DONE", "DONE 2", "4 DONE", "hello", "", "no problem", "1 DONE 400 AC", "HELP"])
def test_what_is_not_plain_changes_nothing_and_is_answered_by_a_sentence(text: str, way: Way, jobs: list[Job]) -> None:
    told(way, jobs)
    answer = bring(way, text)
    assert (answer.status_code, answer.json()["changed"]) == (200, False)
    assert answer.json()["reply"].endswith(".")
    assert not Report.objects.exists()


def test_a_message_of_another_way_or_too_long_ago_is_not_what_an_answer_is_about(way: Way, jobs: list[Job]) -> None:
    other = Way.objects.create(holding=way.holding, person=way.person, kind="mail", address="ada@example.org")
    told(other, [jobs[0]])
    told(way, [jobs[0]], 60 * 24 * 22)
    told(way, [jobs[0]], 30, state=NoticeState.PARKED)
    assert bring(way, "DONE").json() == {"reply": NONE_SENT, "changed": False}


def test_the_same_message_again_is_one_report_and_the_same_answer(way: Way, jobs: list[Job]) -> None:
    told(way, [jobs[0]])
    first = bring(way, "DONE 4 AC")
    told(way, [jobs[1]], 1)
    again = bring(way, "DONE 4 AC")
    assert first.json() == again.json()
    assert Report.objects.count() == 1
    assert bring(way, "DONE 4 AC", "m2").json()["changed"] is True
    assert Report.objects.count() == 2


def test_an_id_that_came_with_another_text_is_refused(way: Way, jobs: list[Job]) -> None:
    told(way, [jobs[0]])
    bring(way, "DONE 4 AC")
    answer = bring(way, "DONE 5 AC")
    assert (answer.status_code, Report.objects.count()) == (422, 1)


def test_stop_stops_the_way_and_withdraws_what_waits(way: Way, jobs: list[Job]) -> None:
    waits = told(way, [jobs[0]], state=NoticeState.QUEUED, sent_at=None)
    assert bring(way, "stop").json() == {"reply": STOPPED, "changed": True}
    way.refresh_from_db()
    waits.refresh_from_db()
    assert way.stopped_at is not None
    assert waits.state == NoticeState.WITHDRAWN


def test_whoever_does_not_sign_in_time_with_the_key_of_the_way_changes_nothing(way: Way, jobs: list[Job]) -> None:
    told(way, [jobs[0]])
    other = Way.objects.create(holding=way.holding, person=way.person, kind="webhook", address=f"{ADDRESS}2")
    now = int(time.time())
    unknown = Way(pk=0, address="nobody@example.org")
    for answer in (
        bring(way, "DONE", key=key_of(other.pk, other.address)),
        bring(way, "DONE", key=""),
        bring(way, "DONE", second=now - 330),
        bring(way, "DONE", second=now + 330),
        bring(unknown, "DONE"),
        client_of().post("/api/inbound/", {"id": "m", "address": ADDRESS, "text": "DONE"}, format="json"),
    ):
        assert answer.status_code == 401
        assert answer.json()["code" if "code" in answer.json() else "detail"].startswith("The message is not signed")
    assert not Report.objects.exists()


def test_one_address_in_two_holdings_is_told_apart_by_the_key(
    way: Way, jobs: list[Job], other_holding: Holding, other_manager: Person
) -> None:
    theirs = Way.objects.create(holding=other_holding, person=other_manager, kind="webhook", address=ADDRESS)
    told(way, [jobs[0]])
    assert bring(theirs, "DONE").json() == {"reply": NONE_SENT, "changed": False}
    assert bring(way, "DONE").json()["changed"] is True


def test_whoever_left_is_nobody(way: Way, jobs: list[Job]) -> None:
    told(way, [jobs[0]])
    Person.objects.filter(pk=way.person_id).update(active=False)
    assert bring(way, "DONE").status_code == 401


def test_a_viewer_is_told_so_and_changes_nothing(viewer: Person, job_factory: Callable[..., Job]) -> None:
    way = Way.objects.create(holding=viewer.holding, person=viewer, kind="webhook", address=ADDRESS)
    told(way, [job_factory(viewer.holding)])
    assert bring(way, "DONE").json() == {
        "reply": "A viewer looks and reports nothing. Nothing was changed.",
        "changed": False,
    }


def test_more_than_people_send_in_an_hour_is_too_many(way: Way) -> None:
    answers = [bring(way, "HELP", f"m{number}").status_code for number in range(MOST_AN_HOUR + 1)]
    assert set(answers[:-1]) == {200}
    assert answers[-1] == 429


@pytest.mark.parametrize(
    "body",
    [
        {"text": "\x00"},
        {"text": "x" * 2001},
        {"text": 1},
        {"text": None},
        {"id": ""},
        {"id": "a\r\nb"},
        {"id": "x" * 201},
        {"address": "x" * 255},
        {"address": ["x"]},
        {"more": 1},
    ],
)
def test_a_body_that_is_none_is_refused_before_anything_is_looked_up(body: dict[str, Any], way: Way) -> None:
    assert bring(way, "DONE", body=body).status_code == 400


@pytest.mark.parametrize("second", ["", "x", "-1", "9" * 40, "1e9", "nan"])
def test_no_second_or_signature_breaks_it(second: str, way: Way) -> None:
    body = {"id": "m", "address": ADDRESS, "text": "DONE"}
    for given in ("", "x", "0" * 64, "é", "f" * 5000):
        headers = {"X-Readyground-Second": second, "X-Readyground-Signature": given}
        assert client_of().post("/api/inbound/", body, format="json", headers=headers).status_code == 401


@pytest.mark.django_db(transaction=True)
def test_the_same_message_eight_times_at_once_is_one_report(
    way: Way, jobs: list[Job], at_once: Callable[..., list[Any]]
) -> None:
    told(way, [jobs[0]])
    answers = at_once(lambda: bring(way, "DONE 4 AC"))
    assert [answer.status_code for answer in answers] == [200] * 8
    assert len({answer.content for answer in answers}) == 1
    assert Report.objects.count() == 1
