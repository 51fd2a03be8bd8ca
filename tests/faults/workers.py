"""Faults 3, 4 and 21: a pool child or a whole worker is killed in the middle of a task; a worker is cut off.

    python -m tests.faults.workers [early]   (in a place: a worker; `early` takes messages off before their work)

The worker is the program's own with its queue's settings, but for two waits that are made short so that a run ends:
what a dead worker held goes again after 3 s instead of 300, a dead sender's lease is over after 3 s instead of 180.
The task that is killed stores a report through the service, with time before and after in which to be killed.
"""

import os
import signal
import sys
import time
import uuid
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from celery import Celery, shared_task

from tests.core.smtp_sink import SmtpSink
from tests.faults.ground import Ground, Process, Redis, Web, ask, ground, until
from tests.faults.proxy import Proxy
from tests.faults.queues import unsent

VISIBLE_S, LEASE_S = 3, 3
WITHIN_S = VISIBLE_S + 10.0
STEP_S = 0.7
EACH = 10
CUTS = (("redis", "database"), ("redis",), ("database",))
OURS = (sys.executable, "-m", "tests.faults.workers")
BEAT = (sys.executable, "-m", "tests.faults.queues", "beat")


@shared_task(name="faults.report")
def report(key: str, folder: str) -> None:
    """Store a report, and write into a file how far it came: `began PID`, `stored`, `ended`."""
    from django.utils import timezone

    from core.models import Person
    from jobs.models import Job
    from jobs.services.reports import NewReport, store_report

    steps = Path(folder) / key
    _write(steps, f"began {os.getpid()}")
    time.sleep(STEP_S)
    at = datetime(2026, 5, 9, 10, 40, tzinfo=UTC)
    new = NewReport(client_id=uuid.UUID(key), kind="start", happened_at=at, job=Job.objects.order_by("id")[0].pk)
    store_report(person=Person.objects.get(name="Ada"), new=new, now=timezone.now())
    _write(steps, "stored")
    time.sleep(STEP_S)
    _write(steps, "ended")


def child_killed(rounds: int) -> dict[str, Any]:
    """3: kill -9 of the pool child that runs the task, before the report is stored and after, in turn."""
    return _killed(3, "pool child killed in its task", rounds, whole=False)


def worker_killed(rounds: int) -> dict[str, Any]:
    """4: kill -9 of the whole worker, which is started anew; the task runs again within its visibility and 10 s."""
    return _killed(4, "whole worker killed in its task", rounds, whole=True)


def _killed(number: int, what: str, rounds: int, *, whole: bool) -> dict[str, Any]:
    begun, longest = time.monotonic(), 0.0
    again = lost = 0
    with Redis() as redis, ground("postgresql") as bare:
        place = bare.having(REDIS_URL=redis.url)
        keys = []
        with ExitStack() as running:
            worker = running.enter_context(Process(place, *OURS))
            for step in ("began", "stored") * rounds:
                keys.append(_send(redis, place))
                _kill_at(place, keys[-1], step, worker, whole)
                if whole:
                    worker = running.enter_context(Process(place, *OURS))
                took = _ended(place, keys[-1])
                longest = max(longest, took)
                lost += int(took == float("inf"))
                again += int(_steps(place, keys[-1]).count("began") > 1)
        found = [str(row[0]) for row in place.rows("SELECT client_id FROM jobs_report")]
        control = _early(redis, place, whole, 2 * longest + 2)
    return {
        "fault": number,
        "what": f"{what}; run again {again} times, after {longest:.1f} s at most",
        "count": 2 * rounds,
        "lost": lost + len(set(keys) - set(found)) + (2 * rounds - again),
        "doubled": len(found) - len(set(found)),
        "control_failed": control,
        "control": "a worker that takes messages off before their work: the report is lost",
        "seconds": round(time.monotonic() - begun, 1),
    }


def _early(redis: Redis, place: Ground, whole: bool, seconds: float) -> int:
    """The control: the same kill, before the report is stored, under a worker that takes messages off first. It is
    waited for twice as long as any of the others took."""
    until(
        lambda: b"blocked_clients:0" in redis.ask("INFO clients"), 30, "the end of the worker before"
    )  # it would take
    with ExitStack() as running:
        worker = running.enter_context(Process(place, *OURS, "early"))
        key = _send(redis, place)
        _kill_at(place, key, "began", worker, whole)
        if whole:
            running.enter_context(Process(place, *OURS, "early"))
        return int(_ended(place, key, min(seconds, WITHIN_S)) == float("inf"))


def _send(redis: Redis, place: Ground) -> str:
    """Ask for a report of its own id."""
    key = str(uuid.uuid4())
    with Celery(broker=redis.url, set_as_current=False) as app:
        app.send_task("faults.report", [key, str(place.data)])
    return key


def _steps(place: Ground, key: str) -> str:
    file = place.data / key
    return file.read_text() if file.exists() else ""


def _kill_at(place: Ground, key: str, step: str, worker: Process, whole: bool) -> None:
    until(lambda: step in _steps(place, key), 90, f"the task's step '{step}'")
    time.sleep(STEP_S / 3)  # a message that is taken off first is off by now
    if whole:
        worker.kill()
    else:
        os.kill(int(_steps(place, key).split()[1]), signal.SIGKILL)


def _ended(place: Ground, key: str, seconds: float = WITHIN_S) -> float:
    """Seconds until the task has ended and its report is there; infinite where that takes too long."""
    begun = time.monotonic()
    while "ended" not in _steps(place, key):
        if time.monotonic() > begun + seconds:
            return float("inf")
        time.sleep(0.05)
    return time.monotonic() - begun


def cut_off(rounds: int) -> dict[str, Any]:
    """21: two workers on one Redis and one PostgreSQL, each behind proxies of its own; one is cut off from both, from
    Redis or from the database while reminders are sent and reports come in, and brought back.

    In the end every reminder was accepted by the mail server, under one id each, and the walk is up to the facts. The
    control are messages that carry the work themselves, on the same workers, as the queue alone would run them."""
    begun, total = time.monotonic(), rounds * EACH
    with ExitStack() as running:
        redis = running.enter_context(Redis())
        bare = running.enter_context(ground("postgresql"))
        sink = running.enter_context(SmtpSink(delay_s=0.1))
        near = bare.having(REDIS_URL=redis.url, READYGROUND_SMTP_URL=f"smtp://127.0.0.1:{sink.port}")
        database = int(near.url.rpartition("/")[0].rpartition(":")[2])
        proxies = [
            {"redis": running.enter_context(Proxy(redis.port)), "database": running.enter_context(Proxy(database))}
            for _ in range(2)
        ]
        for each in proxies:
            far = near.having(
                url=near.url.replace(f":{database}/", f":{each['database'].port}/"),
                REDIS_URL=f"redis://127.0.0.1:{each['redis'].port}/0",
            )
            running.enter_context(Process(far, *OURS))
        running.enter_context(Process(near, *BEAT))
        web = running.enter_context(Web(near))
        keys, taken = [], 0
        for number in range(rounds):
            near.run("-m", "tests.faults.queues", "notices", str(EACH), "0.1", "mail")
            some = [_send(redis, near) for _ in range(4)]  # more than one worker takes at once
            keys += some
            until(lambda some=some: sum(map(bool, (_steps(near, key) for key in some))) > 2, 90, "the tasks")
            for name in CUTS[number % 3]:
                proxies[number % 2][name].cut()
            body = {"client_id": str(uuid.uuid4()), "job": near.told["jobs"][number % 12], "kind": "start"}
            body["happened_at"] = "2026-05-09T10:40:00Z"
            taken += int(ask(web.port, "POST", "/api/reports/", near.told["helper"], body)[0] == 201)
            time.sleep(2 * STEP_S)
            for name in CUTS[number % 3]:
                proxies[number % 2][name].restore()
        late = _waited(lambda: not unsent(near) and _walked(near), 60)
        missing = unsent(near) + int(not _walked(near)) + rounds - taken
        time.sleep(VISIBLE_S + 2)
        stored = {str(row[0]) for row in near.rows("SELECT client_id FROM jobs_report")}
        control = len(set(keys) - stored)
        accepted = sink.ids()
    return {
        "fault": 21,
        "what": f"one of two workers cut off and back; {len(accepted) - len(set(accepted))} mails came twice under one "
        f"id, all out {late:.0f} s after the last cut",
        "count": rounds,
        "lost": missing + total - len(set(accepted)),
        "doubled": max(0, len(accepted) - len(set(accepted)) - rounds),
        "control_failed": control,
        "control": f"of {len(keys)} messages that carry the work themselves, {control} were lost",
        "seconds": round(time.monotonic() - begun, 1),
    }


def _walked(place: Ground) -> bool:
    return place.count("SELECT count(*) FROM core_graph WHERE walked_version < facts_version") == 0


def _waited(true: Any, seconds: float) -> float:
    begun = time.monotonic()
    while not true() and time.monotonic() < begun + seconds:
        time.sleep(0.2)
    return time.monotonic() - begun


def _write(file: Path, line: str) -> None:
    with file.open("a") as handle:
        handle.write(f"{line}\n")


FAULTS = {3: child_killed, 4: worker_killed, 21: cut_off}


def main(*words: str) -> None:
    from core.celery import app
    from core.services import notices

    app.conf.broker_transport_options |= {"visibility_timeout": VISIBLE_S, "unacked_restore_interval": 1}
    app.conf.visibility_timeout = VISIBLE_S
    notices.LEASE = timedelta(seconds=LEASE_S)
    if "early" in words:
        app.conf.update(task_acks_late=False, task_reject_on_worker_lost=False)
    quiet = ["--without-gossip", "--without-mingle", "--loglevel", "WARNING"]
    app.worker_main(["worker", "-P", "prefork", "-c", "2", *quiet])


if __name__ == "__main__":
    import django

    django.setup()
    main(*sys.argv[1:])
