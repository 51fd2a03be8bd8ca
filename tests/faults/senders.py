"""Faults 1, 2, 8 and 9: senders killed with the queue full, confirmations lost, too many of everything, one that slept.

    python -m tests.faults.senders fill COUNT           (in a place: reminders by mail, all due)
    python -m tests.faults.senders sweep LEASE_S ORDER  (in a place: a sender that sweeps until it is ended)

ORDER is `send` (the program's own), `give-up` (no second try: must leave some unsure), `blind` (no claim: must double)
or `unfenced` (a mark that asks for no token: must write over what another did).
"""

import json
import os
import signal
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import timedelta
from typing import Any

from tests.core.smtp_sink import SmtpSink
from tests.faults.ground import ENGINES, Ground, Process, ground, until

LEASE_S = 2.0
EACH = 25
"""Reminders a kill: 200 kills have 5,000."""
OURS = (sys.executable, "-m", "tests.faults.senders")


@contextmanager
def mailing(engine: str, count: int, **how: Any) -> Iterator[tuple[Ground, SmtpSink]]:
    """A place with so many reminders due, and the mail server they go to."""
    with ground(engine) as bare, SmtpSink(**how) as sink:
        place = bare.having(READYGROUND_SMTP_URL=f"smtp://127.0.0.1:{sink.port}")
        place.run("-m", "tests.faults.senders", "fill", str(count))
        yield place, sink


def sender(place: Ground, order: str = "send", lease_s: float = LEASE_S) -> Process:
    return Process(place, *OURS, "sweep", str(lease_s), order)


def unsent(place: Ground) -> int:
    return place.count("SELECT count(*) FROM core_notice WHERE state IN ('queued', 'claimed', 'parked')")


def killed(rounds: int) -> dict[str, Any]:
    """1: so many kills of busy senders on each database; they are forked, so that each is at work at once."""
    begun = time.monotonic()
    lost = beyond = kills = twice = parked = 0
    for engine in ENGINES:
        told = _kill(engine, "send-first", rounds)
        lost, kills, twice = lost + told["lost"], kills + told["kills"], twice + told["twice"]
        parked += told["parked"]
        beyond += max(0, told["twice"] - told["kills"])
    control = _kill("sqlite", "mark-first", 30, 250)["lost"]
    return {
        "fault": 1,
        "what": f"busy senders killed {kills} times; {twice} mails went twice under one id, at most one a kill; "
        f"{parked} were parked as their senders were killed at all tries, and sent again",
        "count": kills,
        "lost": lost,
        "doubled": beyond,
        "control_failed": control,
        "control": f"mark, then send: {control} lost",
        "seconds": round(time.monotonic() - begun, 1),
        "twice": twice,
    }


def _kill(engine: str, order: str, kills: int, count: int = 0) -> dict[str, int]:
    """The queue is never empty at a kill: what is left after the last one is counted and must be something."""
    pairs, count = -(-kills // 2), count or max(EACH * kills, 100)
    with ground(engine) as bare, SmtpSink(delay_s=0.02) as sink:
        place = bare.having(READYGROUND_SMTP_URL=f"smtp://127.0.0.1:{sink.port}")
        said = place.run("-m", "tests.faults.killed_senders", order, str(count), str(pairs), seconds=1800)
        told = json.loads(next(line for line in reversed(said.splitlines()) if line.startswith("{")))
        ids = sink.ids()
    assert told["kills"] == 2 * pairs, told
    assert told["left"] > 0, "the queue ran empty before the last kill, which then hit nobody"
    assert told["sent"] == count, told
    return {
        "lost": count - len(set(ids)),
        "twice": len(ids) - len(set(ids)),
        "kills": told["kills"],
        "parked": told["parked"],
    }


def _finish(place: Ground, order: str, seconds: float = 900) -> None:
    until(lambda: not unsent(place), seconds, f"the last reminder ({order})")
    time.sleep(0.3)


def unconfirmed(rounds: int) -> dict[str, Any]:
    """2: of so many mails on each database, every twentieth is taken by the server and its confirmation is lost."""
    begun = time.monotonic()
    lost = beyond = twice = dropped = 0
    for engine in ENGINES:
        with mailing(engine, rounds, drop_every=20 if rounds >= 40 else 4) as (place, sink), sender(place):
            _finish(place, "send")
            ids, gone = sink.ids(), sink.dropped
        lost += rounds - len(set(ids))
        twice, dropped = twice + len(ids) - len(set(ids)), dropped + gone
        beyond += max(0, len(ids) - len(set(ids)) - gone)
    with mailing("sqlite", 40, drop_every=4) as (place, sink), sender(place, "give-up"):
        _finish(place, "give-up")
        unsure = place.count("SELECT count(*) FROM core_notice WHERE state = 'withdrawn'")
    return {
        "fault": 2,
        "what": f"confirmation lost after {dropped} of the mails; {twice} went again under the same id",
        "count": rounds * len(ENGINES),
        "lost": lost,
        "doubled": beyond,
        "control_failed": unsure,
        "control": f"a sender that does not try again leaves {unsure} of 40 without a confirmation",
        "seconds": round(time.monotonic() - begun, 1),
        "twice": twice,
        "dropped": dropped,
    }


def crowded(rounds: int) -> dict[str, Any]:
    """8: two schedulers that ring and three senders that loop, at once; nobody is killed, so nothing goes twice."""
    begun = time.monotonic()
    count = max(60, rounds)
    lost = doubled = 0
    for engine in ENGINES:
        ids = _crowd(engine, count, "send")
        lost, doubled = lost + count - len(set(ids)), doubled + len(ids) - len(set(ids))
    control = _crowd("sqlite", 60, "blind")
    return {
        "fault": 8,
        "what": "two schedulers and three senders at once",
        "count": count * len(ENGINES),
        "lost": lost,
        "doubled": doubled,
        "control_failed": len(control) - len(set(control)),
        "control": f"without claims: {len(control) - len(set(control))} second copies of 60",
        "seconds": round(time.monotonic() - begun, 1),
    }


def _crowd(engine: str, count: int, order: str) -> list[str]:
    """The ids of all mails that the crowd sent. Each scheduler rings a worker of its own, every half second."""
    with mailing(engine, count, delay_s=0.005) as (place, sink), ExitStack() as stack:
        if order == "send":
            for _ in range(2):
                stack.enter_context(Process(place, *OURS, "beat"))
        for _ in range(3):
            stack.enter_context(sender(place, order, 60))
        _finish(place, order, 120)
        time.sleep(1)
        return sink.ids()


def slept(rounds: int) -> dict[str, Any]:
    """9: a sender is stopped in the middle of a mail, past its lease, and wakes when another has sent its reminders."""
    begun = time.monotonic()
    lost = beyond = twice = wrong = 0
    for engine in ENGINES:
        for _ in range(rounds):
            for told in _slept_within_a_mail(engine, "send"):
                lost, twice, wrong = lost + told["lost"], twice + told["twice"], wrong + told["wrong"]
                beyond += max(0, told["twice"] - 1)
    control = sum(told["wrong"] for told in _slept_within_a_mail("sqlite", "unfenced"))
    return {
        "fault": 9,
        "what": f"a sender stopped past its lease, then woken; {twice} mails went twice under one id",
        "count": rounds * len(ENGINES),
        "lost": lost + wrong,
        "doubled": beyond,
        "control_failed": control,
        "control": f"a mark without the token wrote over what the other had marked: {control} times",
        "seconds": round(time.monotonic() - begun, 1),
        "twice": twice,
    }


def _slept_within_a_mail(engine: str, order: str) -> list[dict[str, int]]:
    """Sleeps up to the first whose stop fell between the server's yes and the sender's mark: one mail went twice.

    Raises:
        AssertionError: none of five did, and what they show is nothing.
    """
    told: list[dict[str, int]] = []
    while not told or not told[-1]["twice"]:
        assert len(told) < 5, f"no stop of five fell within a mail: {told}"
        told.append(_sleep(engine, order))
    return told


def _sleep(engine: str, order: str, count: int = 10) -> dict[str, int]:
    """`wrong`: rows whose mark of the second sender was written over by the first, late."""
    with mailing(engine, count, delay_s=0.2) as (place, sink):
        with sender(place, order, 1.5) as first:
            until(lambda: len(sink.accepted) >= 2, 60, "a mail")
            os.killpg(first.pid, signal.SIGSTOP)
            with sender(place, "send", 30):  # gets what the first holds once its lease is over
                _finish(place, order, 60)
            before = place.rows("SELECT id, sent_at FROM core_notice ORDER BY id")
            os.killpg(first.pid, signal.SIGCONT)
            time.sleep(1.0)
            after = place.rows("SELECT id, sent_at FROM core_notice ORDER BY id")
        ids = sink.ids()
    return {
        "lost": count - len(set(ids)),
        "twice": len(ids) - len(set(ids)),
        "wrong": sum(one != two for one, two in zip(before, after, strict=True)),
    }


FAULTS: dict[int, Callable[[int], dict[str, Any]]] = {1: killed, 2: unconfirmed, 8: crowded, 9: slept}


# What runs in the place


def fill(count: int) -> None:
    from django.utils import timezone

    from core.models import Holding, Notice, Person, Way

    holding, person, at = Holding.objects.get(), Person.objects.get(name="Ben"), timezone.now()
    way = Way.objects.create(holding=holding, person=person, kind="mail", address="ben@example.org", daily_limit=30_000)
    Notice.objects.bulk_create(
        Notice(
            holding=holding,
            person=person,
            way=way,
            way_kind="mail",
            kind="opened",
            basis=uuid.uuid4().hex,
            weight="alarm",
            payload={"title": f"Job {number}", "lines": ["Open."]},
            created_at=at,
            due_at=at,
        )
        for number in range(count)
    )


def send(lease_s: float, order: str) -> None:
    from django.utils import timezone

    from core.delivery import sender_of
    from core.models import Notice, NoticeState
    from core.services import notices

    notices.LEASE = timedelta(seconds=lease_s)
    notices.backoff = lambda attempts: timedelta(seconds=0.3)
    mail = sender_of("mail")
    sent = {"state": NoticeState.SENT, "claimed_until": None, "sent_at": timezone.now()}
    while True:
        if order in ("send", "give-up", "unfenced"):
            if order == "give-up":
                notices._send = _give_up  # type: ignore[assignment]
            elif order == "unfenced":
                notices._mark = _unfenced
            notices.sweep()
        else:
            waiting = Notice.objects.filter(state=NoticeState.QUEUED)
            for row in waiting.values_list(*notices.COLUMNS):
                notice = notices.Claimed(*row)
                mail.send(notices._message(notice))
                Notice.objects.filter(pk=notice.pk).update(**sent)
        time.sleep(0.05)


def _give_up(notice: Any, mail: Any) -> str:
    from core.delivery import Temporary
    from core.models import NoticeState
    from core.services import notices

    try:
        mail.send(notices._message(notice))
    except Temporary:
        return notices._mark(notice, "withdrawn", NoticeState.WITHDRAWN)
    return notices._mark(notice, "sent", NoticeState.SENT)


def _unfenced(notice: Any, word: str, state: Any, *, sent_at: Any = None, **_: Any) -> str:
    from core.models import Notice

    Notice.objects.filter(pk=notice.pk).update(state=state, claim_token=None, claimed_until=None, sent_at=sent_at)
    return word


def beat() -> None:
    """A scheduler with a worker of its own, on files of its own: what it rings is a sweep."""
    import tempfile

    from core.celery import app

    with tempfile.TemporaryDirectory(prefix="beat-") as folder:
        app.conf.update(
            broker_url="memory://localhost",
            broker_transport_options={},
            beat_schedule_filename=f"{folder}/schedule",
            beat_schedule={"sweep": {"task": "core.tasks.sweep", "schedule": 0.5}},
        )
        app.worker_main(["worker", "-P", "threads", "-c", "1", "-B", "--loglevel", "WARNING"])


if __name__ == "__main__":
    import django

    django.setup()
    if sys.argv[1] == "fill":
        fill(int(sys.argv[2]))
    elif sys.argv[1] == "beat":
        beat()
    else:
        send(float(sys.argv[2]), sys.argv[3])
