"""Run in a place: fill its outbox, kill its senders again and again in the middle of their work, then let one finish.

    python -m tests.faults.killed_senders ORDER NOTICES ROUNDS

ORDER is `send-first` (the program's own sweep) or `mark-first` (the wrong one, to show that the test can see a loss).
Prints JSON: kills, left (notices unsent at the last kill), sent (rows marked sent in the end), parked (notices
given up because their senders were killed at each try, put back as a manager would).
"""

import json
import os
import random
import select
import signal
import sys
import time
from collections.abc import Callable
from datetime import timedelta

import django

django.setup()

from django.db import connections  # noqa: E402
from django.utils import timezone  # noqa: E402

from core.delivery import Sender, sender_of  # noqa: E402
from core.models import Notice, NoticeState  # noqa: E402
from core.services import notices  # noqa: E402
from tests.faults.senders import fill  # noqa: E402

SENDERS_AT_ONCE, SENDERS_AT_THE_END = 2, 4


def mark_first(sender_for: Callable[[str], Sender]) -> None:
    """The order that loses: the row says sent before the message is."""
    while rows := notices._claim(now=timezone.now(), most=notices.AT_ONCE):
        sender = sender_for("mail")
        for notice in rows:
            notices._mark(notice, "sent", NoticeState.SENT, sent_at=timezone.now())
            sender.send(notices._message(notice))


def send_until_killed(order: str) -> tuple[int, int]:
    """Fork a sender that ends only by a kill; (its process id, a pipe that it writes to when it has rows to send)."""
    busy, told = os.pipe()
    child = os.fork()
    if child:
        os.close(told)
        return child, busy

    def sender_for(kind: str) -> Sender:
        os.write(told, b".")
        return sender_of(kind)

    try:
        while True:
            notices.sweep(sender_for=sender_for) if order == "send-first" else mark_first(sender_for)
    finally:
        os._exit(1)


def killed(sender: int, busy: int, after_s: float) -> bool:
    """Whether the sender was ended by the kill, so long after it had rows to send."""
    assert select.select([busy], [], [], 60)[0], "the sender had nothing to send for a minute"
    os.close(busy)
    time.sleep(after_s)
    os.kill(sender, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(sender, 0)[1]) == -signal.SIGKILL


def main(order: str, count: int, rounds: int) -> None:
    dice = random.Random(7)
    notices.LEASE = timedelta(seconds=2)
    notices.AT_ONCE = min(notices.AT_ONCE, max(count // 25, 5))  # no kill may keep the others waiting for its lease
    fill(count)
    unsent = Notice.objects.exclude(state=NoticeState.SENT)
    kills = left = 0
    for _ in range(rounds):
        connections.close_all()
        senders = [send_until_killed(order) for _ in range(SENDERS_AT_ONCE)]
        kills += sum(killed(*sender, after_s=dice.uniform(0.03, 0.15)) for sender in senders)
        left = unsent.count()
    again = drain()
    sent = Notice.objects.filter(state=NoticeState.SENT).count()
    print(json.dumps({"kills": kills, "left": left, "sent": sent, "parked": again}))


def drain() -> int:
    """Let senders finish whom nobody kills before all is sent. Returns how many parked notices were sent again: those
    whose senders were killed at each of their tries, which nobody can tell from one that ends its sender."""
    connections.close_all()
    senders = [send_until_killed("send-first")[0] for _ in range(SENDERS_AT_THE_END)]
    until, again = time.monotonic() + 200, 0
    while Notice.objects.exclude(state=NoticeState.SENT).exists() and time.monotonic() < until:
        time.sleep(0.2)
        parked = list(Notice.objects.filter(state=NoticeState.PARKED).values_list("holding_id", "pk"))
        again += sum(notices.send_again(holding_id=holding, ids=[pk]) for holding, pk in parked)
    for sender in senders:
        os.kill(sender, signal.SIGKILL)
        os.waitpid(sender, 0)
    return again


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
