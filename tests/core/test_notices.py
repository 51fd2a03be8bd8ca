"""The outbox: the row is the reminder. Nothing is lost, and nothing goes twice unless a sender is killed."""

import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from core.delivery import Message, Permanent, Temporary
from core.models import Heartbeat, Holding, Notice, NoticeState, Person
from core.selectors.health import last_sweep_age
from core.services.notices import AT_ONCE, LEASE, MOST_ATTEMPTS, Swept, backoff, send_again, sweep, withdraw

pytestmark = pytest.mark.django_db


class Box:
    """A way out that keeps what it was given and may do something at that moment."""

    def __init__(self, at_send: Callable[[Message], None] = lambda message: None) -> None:
        self.messages: list[Message] = []
        self.at_send = at_send

    def send(self, message: Message) -> None:
        self.messages.append(message)
        self.at_send(message)

    def close(self) -> None:
        return

    def __call__(self, kind: str) -> "Box":
        return self


def failing(error: Exception) -> Box:
    def fail(message: Message) -> None:
        raise error

    return Box(fail)


def notice(person: Person, **fields: Any) -> Notice:
    """A notice due a minute ago."""
    due = timezone.now() - timedelta(minutes=1)
    standard = {
        "holding": person.holding,
        "person": person,
        "way_kind": "file",
        "kind": "opened",
        "basis": uuid.uuid4().hex,
        "payload": {"title": "Mow the clover", "lines": ["Saturday 6:40."]},
        "created_at": due,
        "due_at": due,
    }
    return Notice.objects.create(**(standard | fields))


def let_leases_run_out() -> None:
    Notice.objects.exclude(claimed_until=None).update(claimed_until=timezone.now() - timedelta(seconds=1))


def test_a_due_notice_goes_once_and_is_marked(helper_person: Person) -> None:
    row, box = notice(helper_person), Box()
    assert sweep(sender_for=box) == Swept(sent=1)
    assert sweep(sender_for=box) == Swept()
    row.refresh_from_db()
    assert [(m.id, m.name, m.title, m.body) for m in box.messages] == [
        (row.message_id, helper_person.name, "Mow the clover", "Saturday 6:40.\n")
    ]
    assert (row.state, row.attempts, row.claim_token, row.claimed_until) == (NoticeState.SENT, 1, None, None)
    assert row.sent_at is not None


def test_a_notice_of_later_waits_for_its_time(helper_person: Person) -> None:
    later = timezone.now() + timedelta(hours=1)
    notice(helper_person, due_at=later)
    assert sweep(sender_for=Box()) == Swept()
    assert sweep(sender_for=Box(), now=later) == Swept(sent=1)


def test_where_a_holdings_clock_stands_it_decides_what_is_due(holding: Holding, helper_person: Person) -> None:
    holding.clock_at = datetime(2026, 3, 5, 18, 0, tzinfo=UTC)
    holding.save()
    early = notice(helper_person, due_at=datetime(2026, 3, 5, 17, 0, tzinfo=UTC))
    notice(helper_person, due_at=datetime(2026, 3, 5, 19, 0, tzinfo=UTC))
    box = Box()
    assert sweep(sender_for=box, now=datetime(2030, 1, 1, tzinfo=UTC)) == Swept(sent=1)
    assert [message.id for message in box.messages] == [early.message_id]


def test_the_oldest_go_first_and_no_more_than_asked(helper_person: Person) -> None:
    at = timezone.now()
    rows = [notice(helper_person, due_at=at - timedelta(minutes=minutes)) for minutes in (1, 3, 2)]
    box = Box()
    assert sweep(limit=2, sender_for=box) == Swept(sent=2)
    assert [message.id for message in box.messages] == [rows[1].message_id, rows[2].message_id]


def test_a_sweep_opens_each_kind_of_way_once_and_closes_it(helper_person: Person) -> None:
    opened: list[str] = []
    closed: list[str] = []

    class Door(Box):
        def close(self) -> None:
            closed.append("closed")

    def open_one(kind: str) -> Door:
        opened.append(kind)
        return Door()

    for number in range(AT_ONCE + 10):
        notice(helper_person, way_kind="file" if number % 2 else "console")
    assert sweep(sender_for=open_one) == Swept(sent=AT_ONCE + 10)
    assert sorted(opened) == ["console", "file"]
    assert closed == ["closed", "closed"]


def test_a_failure_is_tried_again_after_a_pause_that_grows(helper_person: Person) -> None:
    row, box = notice(helper_person), failing(Temporary("The mail server could not be reached (OSError)."))
    for attempts, pause in ((1, 30), (2, 60), (3, 120)):
        before = timezone.now()
        assert sweep(sender_for=box) == Swept(again=1)
        assert sweep(sender_for=box) == Swept(), "the pause is not over"
        row.refresh_from_db()
        assert (row.state, row.attempts) == (NoticeState.QUEUED, attempts)
        assert row.last_error == "The mail server could not be reached (OSError)."
        assert timedelta(seconds=pause) <= row.claimed_until - before <= timedelta(seconds=pause + 10)
        let_leases_run_out()
    assert sweep(sender_for=Box()) == Swept(sent=1)
    assert backoff(MOST_ATTEMPTS) <= timedelta(hours=1)


def test_the_eighth_failure_parks_it(helper_person: Person) -> None:
    row, box = notice(helper_person), failing(Temporary("Busy."))
    outcomes = []
    for _ in range(9):
        outcomes.append(sweep(sender_for=box))
        let_leases_run_out()
    assert outcomes == [Swept(again=1)] * 7 + [Swept(parked=1), Swept()]
    row.refresh_from_db()
    assert (row.state, row.attempts, row.last_error) == (NoticeState.PARKED, 8, "Busy.")


def test_never_parks_it_at_once_until_somebody_sends_it_again(holding: Holding, helper_person: Person) -> None:
    row = notice(helper_person)
    assert sweep(sender_for=failing(Permanent("The mail server refused the address (550)."))) == Swept(parked=1)
    assert sweep(sender_for=Box()) == Swept()
    row.refresh_from_db()
    assert row.last_error == "The mail server refused the address (550)."
    assert send_again(holding_id=holding.pk + 1, ids=[row.pk]) == 0
    assert send_again(holding_id=holding.pk, ids=[row.pk]) == 1
    box = Box()
    assert sweep(sender_for=box) == Swept(sent=1)
    assert box.messages[0].id == row.message_id


def test_what_a_library_says_of_an_address_is_not_kept(helper_person: Person, caplog: pytest.LogCaptureFixture) -> None:
    row = notice(helper_person)
    assert sweep(sender_for=failing(RuntimeError("cannot reach ada@example.org"))) == Swept(again=1)
    row.refresh_from_db()
    assert row.last_error == "Unexpected RuntimeError."
    assert "ada@example.org" not in caplog.text


def test_a_claimed_notice_is_the_claimers_until_its_lease_runs_out(helper_person: Person) -> None:
    row = notice(
        helper_person,
        state=NoticeState.CLAIMED,
        claim_token=uuid.uuid4(),
        claimed_until=timezone.now() + LEASE,
        attempts=1,
    )
    assert sweep(sender_for=Box()) == Swept()
    let_leases_run_out()
    box = Box()
    assert sweep(sender_for=box) == Swept(sent=1)
    assert box.messages[0].id == row.message_id


def test_a_sender_that_slept_past_its_lease_marks_nothing(helper_person: Person) -> None:
    row, second = notice(helper_person), Box()

    def sleep_past_the_lease(message: Message) -> None:
        let_leases_run_out()
        assert sweep(sender_for=second) == Swept(sent=1)
        raise Temporary("I woke up and saw a broken link.")

    assert sweep(sender_for=Box(sleep_past_the_lease)) == Swept(overtaken=1)
    row.refresh_from_db()
    assert (row.state, row.last_error) == (NoticeState.SENT, "")
    assert [message.id for message in second.messages] == [row.message_id]


def test_a_notice_that_ends_its_sender_every_time_is_parked(helper_person: Person) -> None:
    row = notice(helper_person)

    def die(message: Message) -> None:
        raise KeyboardInterrupt

    for _ in range(MOST_ATTEMPTS):
        with pytest.raises(KeyboardInterrupt):
            sweep(sender_for=Box(die))
        let_leases_run_out()
    assert sweep(sender_for=Box(die)) == Swept(parked=1)
    row.refresh_from_db()
    assert row.last_error == "Its sender ended before it was sent, 8 times."


def test_only_what_still_waits_can_be_withdrawn(
    holding: Holding, helper_person: Person, other_holding: Holding, other_manager: Person
) -> None:
    rows = {
        "waits": notice(helper_person, job_id=7),
        "claimed": notice(
            helper_person,
            job_id=7,
            state=NoticeState.CLAIMED,
            claim_token=uuid.uuid4(),
            claimed_until=timezone.now() + LEASE,
        ),
        "sent": notice(helper_person, job_id=7, state=NoticeState.SENT, sent_at=timezone.now()),
        "another job": notice(helper_person, job_id=8),
        "another kind": notice(helper_person, job_id=7, kind="summary"),
        "another holding": notice(other_manager, job_id=7),
    }
    assert withdraw(holding_id=holding.pk, kind="opened", jobs=[7]) == 1
    assert {name: Notice.objects.get(pk=row.pk).state for name, row in rows.items()} == {
        "waits": "withdrawn",
        "claimed": "claimed",
        "sent": "sent",
        "another job": "queued",
        "another kind": "queued",
        "another holding": "queued",
    }


def test_a_withdrawn_notice_never_goes(holding: Holding, helper_person: Person) -> None:
    notice(helper_person, job_id=7)
    withdraw(holding_id=holding.pk, kind="opened", jobs=[7])
    assert sweep(sender_for=Box()) == Swept()


def test_whoever_left_the_holding_hears_nothing_more(helper_person: Person) -> None:
    row, box = notice(helper_person), Box()
    helper_person.active = False
    helper_person.save()
    assert sweep(sender_for=box) == Swept(parked=1)
    row.refresh_from_db()
    assert (box.messages, row.last_error) == ([], "The person is no longer active in the holding.")


def test_a_notice_without_words_is_parked_and_holds_up_nobody(helper_person: Person) -> None:
    broken = notice(helper_person, payload={"lines": []}, due_at=timezone.now() - timedelta(days=1))
    notice(helper_person)
    assert sweep(sender_for=Box()) == Swept(sent=1, parked=1)
    broken.refresh_from_db()
    assert broken.last_error == "It cannot be put into words: the notice has no title."


@pytest.mark.parametrize("kind", ["webhook", "mail", "file", "console"])
def test_how_to_answer_is_said_only_where_answers_come_back(helper_person: Person, kind: str) -> None:
    told = {"title": "Mow the clover", "lines": ["1. Mow the clover. Open now."], "jobs": [7]}
    notice(helper_person, way_kind=kind, payload=told)
    notice(helper_person, way_kind=kind, payload=told | {"jobs": []})
    box = Box()
    sweep(sender_for=box)
    how = 'Answer with number and word: "1 DONE", "1 DONE 4 AC" or "1 NO" and the reason.\n'
    assert [message.body for message in box.messages] == [
        "1. Mow the clover. Open now.\n" + (how if kind == "webhook" else ""),
        "1. Mow the clover. Open now.\n",
    ]


def test_a_sweep_says_when_it_ended_well(helper_person: Person) -> None:
    begun = timezone.now()
    assert last_sweep_age(begun) is None
    sweep(sender_for=Box())
    first = Heartbeat.objects.get(name=Heartbeat.SWEEP).at
    assert last_sweep_age(first + timedelta(seconds=90)) == timedelta(seconds=90)
    sweep(sender_for=Box())
    assert begun <= first < Heartbeat.objects.get(name=Heartbeat.SWEEP).at


def test_a_sweep_begins_no_send_after_its_time(helper_person: Person) -> None:
    notice(helper_person)
    assert sweep(sender_for=Box(), seconds=0) == Swept()


@pytest.mark.django_db(transaction=True)
def test_nothing_is_locked_while_a_message_is_under_way(helper_person: Person) -> None:
    inside = []
    notice(helper_person)
    sweep(sender_for=Box(lambda message: inside.append(connection.in_atomic_block)))
    assert inside == [False]


@pytest.mark.django_db(transaction=True)
def test_eight_sweeps_at_once_send_every_notice_once(helper_person: Person, at_once: Callable[..., list[Any]]) -> None:
    rows = [notice(helper_person) for _ in range(40)]
    box = Box()
    at_once(lambda: sweep(sender_for=box))
    assert sorted(message.id for message in box.messages) == sorted(row.message_id for row in rows)
    assert set(Notice.objects.values_list("state", "attempts")) == {(NoticeState.SENT, 1)}


def test_the_command_sends_without_any_broker(
    helper_person: Person, data_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    row = notice(helper_person)
    call_command("send")
    assert capsys.readouterr().out == "1 sent, 0 to be tried again, 0 parked.\n"
    assert (data_folder / "outbox" / f"{row.message_id}.txt").exists()


def test_a_loop_needs_a_pause() -> None:
    with pytest.raises(CommandError, match="above 0"):
        call_command("send", loop=0.0)


@pytest.mark.django_db(transaction=True)
def test_on_sqlite_only_marks_are_written_without_waiting_for_the_disk(helper_person: Person) -> None:
    if connection.vendor != "sqlite":
        assert sweep(sender_for=Box()) == Swept()
        return

    def waits() -> int:
        with connection.cursor() as cursor:
            return int(cursor.execute("PRAGMA synchronous").fetchone()[0])

    inside: list[int] = []
    notice(helper_person)
    sweep(sender_for=Box(lambda message: inside.append(waits())))
    assert (inside, waits()) == ([1], 2)  # 1 is NORMAL, 2 is FULL
