"""Run as a program: fill an outbox, kill its senders again and again in the middle of their work, then let one finish.

    python -m tests.core.killed_senders ORDER NOTICES ROUNDS

ORDER is `send-first` (the program's own sweep) or `mark-first` (the wrong one, to show that the test can see a loss).
Prints JSON: kills, left (notices unsent at the last kill), sent (rows marked sent in the end).
"""

import json
import os
import random
import signal
import sys
import time
import uuid
from datetime import timedelta

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connections  # noqa: E402
from django.utils import timezone  # noqa: E402

from core.delivery import sender_of  # noqa: E402
from core.models import Holding, Notice, NoticeState, Person, Way  # noqa: E402
from core.services import notices  # noqa: E402

SENDERS_AT_ONCE = 2


def fill(count: int) -> None:
    at = timezone.now()
    holding = Holding.objects.create(name="Kill holding")
    person = Person.objects.create(holding=holding, name="Ada")
    to = {"kind": "mail", "address": "ada@example.org", "daily_limit": 30_000}
    way = Way.objects.create(holding=holding, person=person, **to)
    Notice.objects.bulk_create(
        Notice(
            holding=holding,
            person=person,
            way=way,
            way_kind="mail",
            kind="opened",
            basis=uuid.uuid4().hex,
            weight="alarm",  # knows neither quiet hours nor limits
            payload={"title": f"Job {number}", "lines": ["Open."]},
            created_at=at,
            due_at=at,
        )
        for number in range(count)
    )


def mark_first() -> None:
    """The order that loses: the row says sent before the message is."""
    sender = sender_of("mail")
    while rows := notices._claim(now=timezone.now(), most=notices.AT_ONCE):
        for notice in rows:
            notices._mark(notice, "sent", NoticeState.SENT, sent_at=timezone.now())
            sender.send(notices._message(notice))


def send_until_killed(order: str) -> int:
    """Fork a sender and return its process id; it ends only by a kill."""
    child = os.fork()
    if child:
        return child
    try:
        while True:
            notices.sweep() if order == "send-first" else mark_first()
    finally:
        os._exit(1)


def main(order: str, count: int, rounds: int) -> None:
    dice = random.Random(7)
    notices.LEASE = timedelta(seconds=2)
    call_command("migrate", verbosity=0)
    fill(count)
    unsent = Notice.objects.exclude(state=NoticeState.SENT)
    kills = left = 0
    for _ in range(rounds):
        connections.close_all()
        senders = [send_until_killed(order) for _ in range(SENDERS_AT_ONCE)]
        for sender in senders:
            time.sleep(dice.uniform(0.1, 0.18))
            os.kill(sender, signal.SIGKILL)
            kills += int(os.waitstatus_to_exitcode(os.waitpid(sender, 0)[1]) == -signal.SIGKILL)
        left = unsent.count()
    until = time.monotonic() + 240
    while unsent.exists() and time.monotonic() < until:
        notices.sweep()
        time.sleep(0.1)
    print(json.dumps({"kills": kills, "left": left, "sent": Notice.objects.filter(state=NoticeState.SENT).count()}))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
