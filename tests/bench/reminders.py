"""Reminders: mails a second beside bare smtplib on the same server, lateness with the real worker, and quiet holdings.

    python -m tests.bench.reminders worker       (in a place: worker and scheduler on a clock of their own)

The mail server is a process of its own on loopback that accepts at once, so what is timed is the way to it: our rows
are claimed, put into words, sent and marked one by one on the database in use, against finished bytes and nothing kept.
"""

from __future__ import annotations

import multiprocessing
import smtplib
import sys
import uuid
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import datetime, timedelta
from typing import Any

from tests.bench.timing import Say, row, timed
from tests.core.smtp_sink import SmtpSink

MAILS, TURNS = 400, 3
QUICKER = 10
"""So many times as fast as in earnest does the scheduler ring for the lateness; what is measured is stretched back."""
DUE, OVER_S = 120, 12.0
WORST_S = 45.0
JOBS = 150


def main(*, sizes: Sequence[int] | None, full: bool, say: Say) -> dict[str, Any]:
    """`ratios`: `mails` (ours by bare, at least 0.55), `lateness` (p99 by 45 s, at most 1), `quiet_writes` (0)."""
    holdings = sizes[0] if sizes else 1000 if full else 20
    rows: list[dict[str, Any]] = []
    ratios: dict[str, float] = {}
    good = [
        mails(rows, ratios, say),
        lateness(rows, ratios, say),
        quiet(holdings, rows, ratios, say),
    ]
    return {"rows": rows, "ratios": ratios, "equal": all(good)}


# Mails a second


@contextmanager
def server() -> Iterator[tuple[int, Any]]:
    """(port, a pipe that answers "count" with how many distinct messages were accepted) of a process of its own."""
    here, there = multiprocessing.get_context("fork").Pipe()
    process = multiprocessing.get_context("fork").Process(target=_serve, args=(there,), daemon=True)
    process.start()
    try:
        yield here.recv(), here
    finally:
        here.send("end")
        process.join(5)


def _serve(pipe: Any) -> None:
    with SmtpSink() as sink:
        pipe.send(sink.port)
        while pipe.recv() == "count":
            pipe.send(len(set(sink.ids())))


def mails(rows: list[dict[str, Any]], ratios: dict[str, float], say: Say) -> bool:
    from django.db import connection
    from django.test import override_settings

    from core.delivery.mail import written
    from core.models import Notice
    from core.services import notices

    say(f"{MAILS} mails, {TURNS} times each way, on {connection.vendor} ...")
    bare, ours = [], []
    way = _way()
    with server() as (port, pipe):
        mail = {"EMAIL_BACKEND": "django.core.mail.backends.smtp.EmailBackend", "EMAIL_USE_TLS": False}
        mail |= {"EMAIL_HOST": "127.0.0.1", "EMAIL_PORT": port, "SMTP_URL": f"smtp://127.0.0.1:{port}"}
        with override_settings(**mail):
            for _ in range(TURNS):
                _due(way, MAILS)
                ready = Notice.objects.filter(state="queued").select_related("person", "way").order_by("id")
                bodies = [written(notices._message(one)).message().as_bytes(linesep="\r\n") for one in ready]
                bodies = [body.replace(b"Message-ID: <", b"Message-ID: <bare-") for body in bodies]
                bare.append(MAILS / timed(lambda bodies=bodies: _bare(port, bodies))[0])
                seconds, done = timed(lambda: notices.sweep(limit=MAILS, seconds=600))
                ours.append(done.sent / seconds)
            pipe.send("count")
            arrived = pipe.recv()
    ratios["mails"] = round(max(ours) / max(bare), 3)
    rows.append(row(MAILS, "mails, bare smtplib", MAILS / max(bare), None, f"{max(bare):.0f} a second"))
    rows.append(row(MAILS, "mails, our sweep", MAILS / max(ours), ratios["mails"], f"{max(ours):.0f} a second"))
    return bool(arrived == 2 * TURNS * MAILS)


def _bare(port: int, bodies: Sequence[bytes]) -> None:
    with closing(smtplib.SMTP("127.0.0.1", port)) as link:
        for body in bodies:
            link.sendmail("readyground@example.org", ["ada@example.org"], body)


def _way() -> Any:
    from core.models import Graph, Holding, Person, Way

    holding = Holding.objects.create(name="Mail holding")
    Graph.objects.create(holding=holding)
    person = Person.objects.create(holding=holding, name="Ada")
    return Way.objects.create(
        holding=holding, person=person, kind="mail", address="ada@example.org", daily_limit=30_000
    )


def _due(way: Any, count: int) -> None:
    from django.utils import timezone

    from core.models import Notice

    at = timezone.now()
    about = {"holding": way.holding, "person": way.person, "way": way, "way_kind": "mail", "kind": "opened"}
    lines = ["Long Reach. Way in: by the mill.", "1. Mow, North field. Open now.", "   Saturday 6:40 to 10:15."] * 4
    Notice.objects.bulk_create(
        Notice(
            **about,
            basis=uuid.uuid4().hex,
            payload={"title": f"Mow {number}", "lines": lines},
            created_at=at,
            due_at=at,
        )
        for number in range(count)
    )


# Lateness


def lateness(rows: list[dict[str, Any]], ratios: dict[str, float], say: Say) -> bool:
    """Reminders that fall due one after the other while the real worker sweeps as its scheduler rings."""
    from tests.faults.ground import Process, ground, until

    say(f"{DUE} reminders falling due over {OVER_S:g} s, the scheduler {QUICKER} times as quick ...")
    with ground("sqlite") as place, Process(place, sys.executable, "-m", "tests.bench.reminders", "worker"):
        until(lambda: place.count("SELECT count(*) FROM core_heartbeat"), 60, "the first sweep")
        place.run("-m", "tests.faults.queues", "notices", str(DUE), str(OVER_S / DUE))
        until(lambda: not place.count("SELECT count(*) FROM core_notice WHERE state <> 'sent'"), 90, "the last")
        times = place.rows("SELECT due_at, sent_at FROM core_notice")
    late = sorted((_instant(sent) - _instant(due)).total_seconds() * QUICKER for due, sent in times)
    p99 = late[min(len(late) - 1, int(len(late) * 0.99))]
    ratios["lateness"] = round(p99 / WORST_S, 3)
    rows.append(
        row(DUE, "lateness, p99 (stretched back)", p99, ratios["lateness"], f"p50 {late[len(late) // 2]:.1f} s")
    )
    return p99 <= WORST_S


def _instant(value: Any) -> datetime:
    return value if isinstance(value, datetime) else datetime.fromisoformat(value)


def worker() -> None:
    """The worker as `serve` starts it without Redis, its scheduler ringing more often."""
    from core.celery import app

    for entry in app.conf.beat_schedule.values():
        entry["schedule"] = entry["schedule"] / QUICKER
    app.conf.broker_transport_options["polling_interval"] = 0.5 / QUICKER
    app.worker_main(
        ["worker", "-P", "threads", "-c", "2", "-B", "--without-gossip", "--without-mingle", "--loglevel", "WARNING"]
    )


# Quiet holdings


def quiet(count: int, rows: list[dict[str, Any]], ratios: dict[str, float], say: Say) -> bool:
    """Walks of holdings in which nothing changed: what a wake looks at, one walk each, and one walk of everything."""
    from django.utils import timezone

    from jobs.services.walking import due_holdings, walk_holding
    from tests.bench.holdings import make
    from tests.bench.walk_stored import fill, weather

    say(f"{count} quiet holdings of {JOBS} jobs ...")
    series, columns = weather(), make(JOBS, 1, real=False)
    holdings = [fill(columns, f"Quiet {number}", series).pk for number in range(count)]
    now = timezone.now()
    for pk in holdings:
        walk_holding(pk, now=now)
    later = now + timedelta(seconds=1)
    looks = (
        ("wake: holdings that are due", lambda: due_holdings(later)),
        ("a walk of each", lambda: [walk_holding(pk, now=later) for pk in holdings]),
        ("a walk over everything of each", lambda: [walk_holding(pk, now=later, whole=True) for pk in holdings]),
    )
    written = 0
    for what, look in looks:
        asked, writes, (seconds, _) = _counted(look)
        written += writes if "everything" not in what else 0
        rows.append(row(count * JOBS, what, seconds, None, f"{asked} queries, {writes} writes"))
    ratios["quiet_writes"] = written
    return written == 0


def _counted(look: Any) -> tuple[int, int, tuple[float, Any]]:
    """(statements, those that write, what `timed` says)."""
    from django.db import connection

    told = [0, 0]

    def watch(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        told[0] += 1
        told[1] += sql.split(maxsplit=1)[0].upper() in ("INSERT", "UPDATE", "DELETE", "REPLACE")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        found = timed(look)
    return told[0], told[1], found


if __name__ == "__main__":
    worker()
