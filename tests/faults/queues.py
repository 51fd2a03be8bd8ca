"""Faults 5, 6 and 7: Redis is wiped, restarted again and again, or not there at all.

    python -m tests.faults.queues notices COUNT PAUSE_S [mail]  (in a place: reminders, due one after the other)
    python -m tests.faults.queues beat     (in a place: the scheduler, sweeping every second)
    python -m tests.faults.queues worker   (in a place: the program's worker, which knows the task `faults.letter` too)
    python -m tests.faults.queues stubborn (in a place: a worker that does not connect again)

The sweep is rung every second instead of every fifteen, so that two sweeps are over soon. The control of 5 and 7 are
reminders that are nothing but a task in Redis, on the same worker and through the same fault.
"""

import os
import random
import signal
import socket
import sys
import time
import uuid
from contextlib import nullcontext, suppress
from datetime import timedelta
from typing import Any

from celery import Celery, shared_task

from tests.faults.ground import Ground, Process, Redis, Web, ask, ground, until

SWEEP_S = 1.0
WITHIN_S = 10.0
EACH = 5
OURS = (sys.executable, "-m", "tests.faults.queues")
QUIET = ("--without-gossip", "--without-mingle", "--loglevel", "WARNING")


@shared_task(name="faults.letter")
def letter(key: str) -> None:
    """Send a reminder that stands nowhere but in this task."""
    from core.delivery import Message, sender_of

    sender_of("file").send(Message(uuid.UUID(key), "Ben", "x@example.org", "Work", "Open."))


def carry(redis: Redis, count: int) -> list[str]:
    """Reminders that are tasks and nothing else, put into Redis; their ids."""
    keys = [str(uuid.uuid4()) for _ in range(count)]
    with Celery(broker=redis.url, set_as_current=False) as app:
        for key in keys:
            app.send_task("faults.letter", [key])
    return keys


def missing(place: Ground, keys: list[str]) -> int:
    """How many of these were never sent."""
    return len(set(keys) - {file.stem for file in (place.data / "outbox").glob("*.txt")})


def unsent(place: Ground) -> int:
    """How many of the fault's own reminders are not sent; the program's own news wait for the evening."""
    return place.count("SELECT count(*) FROM core_notice WHERE kind = 'fault' AND state <> 'sent'")


def not_in_outbox(place: Ground, count: int) -> int:
    """How many of so many of the fault's own reminders never came into the outbox."""
    ids = [str(uuid.UUID(str(row[0]))) for row in place.rows("SELECT message_id FROM core_notice WHERE kind = 'fault'")]
    return count - len(ids) + missing(place, ids)


def wiped(rounds: int) -> dict[str, Any]:
    """5: FLUSHALL while bells and a running sweep are in Redis; every reminder leaves within two sweeps and a start."""
    begun, bells, kept, gone = time.monotonic(), 0, list[str](), list[str]()
    with Redis() as redis, ground("postgresql") as bare:
        place = bare.having(REDIS_URL=redis.url)
        with Process(place, *OURS, "worker") as worker, Process(place, *OURS, "beat"):
            until(lambda: swept_at(place), 60, "the first sweep")
            for _ in range(rounds):
                place.run("-m", "tests.faults.queues", "notices", str(EACH), "0.2")
                kept += carry(redis, 1)
                until(lambda kept=kept: not missing(place, kept), 30, "a task that nothing befell")
                os.killpg(worker.pid, signal.SIGSTOP)  # bells pile up that nobody takes
                time.sleep(2 * SWEEP_S + 0.2)
                bells += int(redis.ask("LLEN celery").decode().strip(":\r\n"))
                gone += carry(redis, EACH)
                redis.ask("FLUSHALL")
                os.killpg(worker.pid, signal.SIGCONT)
                with suppress(AssertionError):
                    until(lambda: not unsent(place), 2 * SWEEP_S + WITHIN_S, "the last reminder")
            lost, control = unsent(place) + not_in_outbox(place, rounds * EACH), missing(place, gone)
    return {
        "fault": 5,
        "what": f"Redis wiped, {bells} waiting bells gone with it",
        "count": rounds,
        "lost": lost,
        "doubled": 0,
        "control_failed": control,
        "control": f"of {len(gone)} reminders that were tasks and nothing else, {control} were never sent",
        "seconds": round(time.monotonic() - begun, 1),
    }


def restarted(rounds: int) -> dict[str, Any]:
    """6: kill -9 of Redis and a start, every other time twice; a sweep must end within ten seconds after each."""
    begun = time.monotonic()
    dice, took = random.Random(6), list[float]()
    with Redis(keeps=True) as redis, ground("postgresql") as bare:
        place = bare.having(REDIS_URL=redis.url)
        with Process(place, *OURS, "worker"), Process(place, *OURS, "beat"):
            until(lambda: swept_at(place), 60, "the first sweep")
            for number in range(rounds):
                for _ in range(1 + number % 2):
                    time.sleep(dice.uniform(0, 1))
                    redis.kill()
                    time.sleep(dice.uniform(0, 0.5))
                    redis.start()
                took.append(consuming_again(place))
        with Process(place, *OURS, "stubborn") as stubborn, Process(place, *OURS, "beat"):
            consuming_again(place, 30)
            redis.kill()
            redis.start()
            begin = time.monotonic()
            while time.monotonic() < begin + WITHIN_S and stubborn.process.poll() is None:
                time.sleep(0.05)
            control = int(stubborn.process.poll() is not None or consuming_again(place) > WITHIN_S)
    stuck = sum(seconds > WITHIN_S for seconds in took)
    return {
        "fault": 6,
        "what": f"Redis killed and started; consuming again, longest {max(took):.1f} s",
        "count": rounds,
        "lost": stuck,
        "doubled": 0,
        "control_failed": control,
        "control": "a worker that does not connect again ends",
        "seconds": round(time.monotonic() - begun, 1),
        "longest_s": round(max(took), 2),
    }


def absent(rounds: int) -> dict[str, Any]:
    """7: no Redis, then one that takes connections and says nothing: reports are stored and answered within five
    seconds all the same, and reminders leave by `manage.py send`."""
    begun = time.monotonic()
    slowest, refused = dict.fromkeys(("away", "dumb"), 0.0), 0
    with Redis() as redis, ground("postgresql") as bare:
        place = bare.having(REDIS_URL=redis.url)
        place.run("-m", "tests.faults.queues", "notices", str(2 * rounds), "0")
        gone = carry(redis, 2 * rounds)
        redis.kill()
        with Web(place) as web:
            for how in slowest:
                with socket.create_server(("127.0.0.1", redis.port)) if how == "dumb" else nullcontext():
                    for number in range(rounds):
                        at, status = time.monotonic(), _report(place, web, number)
                        slowest[how] = max(slowest[how], time.monotonic() - at)
                        refused += int(status != 201)
        stored = place.count("SELECT count(*) FROM jobs_report")
        waiting = unsent(place)
        while waiting and (place.run("manage.py", "send"), unsent(place) < waiting)[1]:
            waiting = unsent(place)
        lost = unsent(place) + not_in_outbox(place, 2 * rounds)
        redis.start()
        with Process(place, *OURS, "worker"):
            later = carry(redis, 1)
            until(lambda: not missing(place, later), 60, "a task that nothing befell")
            control = missing(place, gone)
    return {
        "fault": 7,
        "what": "no Redis, or a dumb one: reports are taken, reminders leave without it",
        "count": 2 * rounds,
        "lost": refused + (2 * rounds - stored) + lost + sum(seconds > 5 for seconds in slowest.values()),
        "doubled": 0,
        "control_failed": control,
        "control": f"slowest answers {slowest['away']:.2f} s and {slowest['dumb']:.2f} s; of {len(gone)} "
        f"reminders that were tasks and nothing else, {control} were never sent",
        "seconds": round(time.monotonic() - begun, 1),
    }


def _report(place: Ground, web: Web, number: int) -> int:
    job = place.told["jobs"][number % len(place.told["jobs"])]
    body = {"client_id": str(uuid.uuid4()), "job": job, "kind": "done", "happened_at": "2026-05-09T10:40:00Z"}
    return ask(web.port, "POST", "/api/reports/", place.told["helper"], body)[0]


FAULTS = {5: wiped, 6: restarted, 7: absent}


def swept_at(place: Ground) -> Any:
    """When a sweep last ended well, as stored; None before the first."""
    found = place.rows("SELECT at FROM core_heartbeat WHERE name = 'sweep'")
    return found[0][0] if found else None


def consuming_again(place: Ground, seconds: float = WITHIN_S + 5) -> float:
    """Seconds until a sweep ends that had not by now; more than `seconds` if none does."""
    last, begun = swept_at(place), time.monotonic()
    while swept_at(place) == last:
        if time.monotonic() - begun > seconds:
            return float("inf")
        time.sleep(0.05)
    return time.monotonic() - begun


def notices(count: int, pause_s: float, kind: str = "file") -> None:
    from django.utils import timezone

    from core.models import Holding, Notice, NoticeWeight, Person, Way

    holding, person, at = Holding.objects.get(), Person.objects.get(name="Ben"), timezone.now()
    way = Way.objects.get(person=person)
    Notice.objects.bulk_create(
        Notice(
            holding=holding,
            person=person,
            way=way,
            way_kind=kind,
            kind="fault",
            weight=NoticeWeight.ALARM,  # knows no evening and no limit a day
            basis=uuid.uuid4().hex,
            payload={"title": f"Job {number}", "lines": ["Open."]},
            created_at=at,
            due_at=at + timedelta(seconds=pause_s * number),
        )
        for number in range(count)
    )


def main(what: str, *more: str) -> None:
    from core.celery import app

    if what == "notices":
        notices(int(more[0]), float(more[1]), *more[2:])
    elif what == "beat":
        app.conf.beat_schedule = {
            name: {"task": name, "schedule": SWEEP_S} for name in ("core.tasks.sweep", "jobs.tasks.wake")
        }
        app.Beat(loglevel="WARNING", quiet=True).run()
    elif what == "worker":
        app.worker_main(["worker", "-P", "prefork", "-c", "2", *QUIET])
    else:
        app.conf.update(broker_connection_retry=False)
        app.worker_main(["worker", "-P", "solo", *QUIET])


if __name__ == "__main__":
    import django

    django.setup()
    main(*sys.argv[1:])
