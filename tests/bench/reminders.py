"""Reminders: mails a second beside bare smtplib on the same server, lateness with the real worker, and quiet holdings.

    python -m tests.bench.reminders worker       (in a place: worker and scheduler on a clock of their own)

The mail server is a process of its own on loopback that accepts at once, so what is timed is the way to it. Ours: rows
claimed, put into words, sent and marked one by one on the database in use. Bare: each mail built by the standard
library's EmailMessage from words that are ready, with the same headers, text and, for every fourth, calendar part, and
sent by smtplib's send_message, all over one connection; nothing is kept. Two rows beside that are no target: bare with
finished bytes, and both with a server that takes 12 ms for a mail, as one in earnest does.
"""

from __future__ import annotations

import multiprocessing
import re
import smtplib
import sys
import uuid
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import datetime, timedelta
from email import message_from_bytes, message_from_string
from email.message import EmailMessage
from functools import partial
from typing import Any

from tests.bench.timing import Say, row, timed
from tests.core.smtp_sink import SmtpSink

MAILS, TURNS = 300, 3
SLOW_S, SLOW_MAILS = 0.012, 100
DAYS_EACH = 4
"""Every so manieth mail has a calendar part."""
QUICKER = 10
"""So many times as fast as in earnest does the scheduler ring for the lateness; what is measured is stretched back."""
DUE, OVER_S = 120, 12.0
WORST_S = 45.0
JOBS, LOOKED_AT = 150, 1000


def main(*, sizes: Sequence[int] | None, full: bool, say: Say) -> dict[str, Any]:
    """`ratios`: `mails` (ours by bare, at least 0.55), `mails_by_bytes` (ours by bare with finished bytes),
    `lateness` (p99 by 45 s, at most 1), `quiet_writes` (rows, 0). `sizes`: so many quiet holdings."""
    holdings = sizes[0] if sizes else 1000 if full else 40
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
def server(delay_s: float = 0.0) -> Iterator[tuple[int, Any]]:
    """(port, a pipe that answers "arrived" with what each Message-ID said) of a process of its own."""
    here, there = multiprocessing.get_context("fork").Pipe()
    process = multiprocessing.get_context("fork").Process(target=_serve, args=(there, delay_s), daemon=True)
    process.start()
    try:
        yield here.recv(), here
    finally:
        here.send("end")
        process.join(5)


def _serve(pipe: Any, delay_s: float) -> None:
    with SmtpSink(delay_s=delay_s) as sink:
        pipe.send(sink.port)
        while pipe.recv() == "arrived":
            pipe.send({one: _said(text) for one, text in zip(sink.ids(), sink.accepted, strict=True)})


def _said(text: str) -> tuple[str, ...]:
    """Subject and the content of each part of a mail, however it is encoded."""
    mail = message_from_string(text)
    return mail["Subject"], *("\n".join(part.split()) for part in _parts(mail))


def mails(rows: list[dict[str, Any]], ratios: dict[str, float], say: Say) -> bool:
    from django.db import connection

    say(f"{MAILS} mails, {TURNS} times each way, on {connection.vendor} ...")
    way = _way()
    swift, good = _each_way(way, MAILS, TURNS, 0.0)
    ratios["mails"] = round(swift["ours"] / swift["bare"], 3)
    ratios["mails_by_bytes"] = round(swift["ours"] / swift["bytes"], 3)
    shown = (("bare", "bare smtplib, each built", None), ("bytes", "bare smtplib, finished bytes", None))
    for key, what, ratio in (*shown, ("ours", "our sweep", ratios["mails"])):
        rows.append(row(MAILS, f"mails, {what}", MAILS / swift[key], ratio, f"{swift[key]:.0f} a second"))
    slow, also = _each_way(way, SLOW_MAILS, 1, SLOW_S)
    ratio = slow["ours"] / slow["bare"]
    for key, what in (("bare", "bare smtplib, each built"), ("ours", "our sweep")):
        of = ratio if key == "ours" else None
        what = f"server of {SLOW_S * 1000:g} ms, {what}"
        rows.append(row(SLOW_MAILS, what, SLOW_MAILS / slow[key], of, f"{slow[key]:.0f} a second"))
    return good and also


def _each_way(way: Any, count: int, turns: int, delay_s: float) -> tuple[dict[str, float], bool]:
    """(mails a second in the best turn of each way, whether all arrived once and say the same each way)."""
    from django.test import override_settings

    from core.delivery import mail
    from core.models import Notice
    from core.services import notices

    best = {"bare": 0.0, "bytes": 0.0, "ours": 0.0}
    with server(delay_s) as (port, pipe):
        to = {"EMAIL_HOST": "127.0.0.1", "EMAIL_PORT": port, "EMAIL_USE_TLS": False}
        with override_settings(**to, SMTP_URL=f"smtp://127.0.0.1:{port}"):
            for _ in range(turns):
                _due(way, count)
                rows = Notice.objects.filter(state="queued").order_by("id").values_list(*notices.COLUMNS)
                bodies = [mail.written(notices._message(notices.Claimed(*one))) for one in rows]
                words = [_words(body) for body in bodies]
                bodies = [body.replace(b"Message-ID: <", b"Message-ID: <bytes-") for body in bodies]
                ways: dict[str, Callable[[], object]] = {
                    "bare": partial(_bare, port, words),
                    "bytes": partial(_bytes, port, bodies),
                    "ours": partial(notices.sweep, limit=count, seconds=600),
                }
                for key, run in ways.items():
                    best[key] = max(best[key], count / timed(run)[0])
        pipe.send("arrived")
        arrived: dict[str, Any] = pipe.recv()
    ours = [one for one in arrived if not one.startswith(("<bare-", "<bytes-"))]
    same = all(arrived.get(f"<{way}-{one[1:]}") == arrived[one] for one in ours for way in ("bare", "bytes"))
    return best, same and len(ours) == count * turns


def _words(body: bytes) -> tuple[dict[str, str], str, str]:
    """(headers, text, calendar or "") of a mail, what a builder is given."""
    mail = message_from_bytes(body)
    headers = {name: str(value) for name, value in mail.items() if not name.startswith(("Content-", "MIME-"))}
    headers["Message-ID"] = headers["Message-ID"].replace("<", "<bare-")
    text, *calendar = _parts(mail)
    return headers, text, "".join(calendar)


def _parts(mail: Any) -> list[str]:
    return [part.get_payload(decode=True).decode() for part in mail.walk() if not part.is_multipart()]


def _bare(port: int, words: Sequence[tuple[dict[str, str], str, str]]) -> None:
    with closing(smtplib.SMTP("127.0.0.1", port)) as link:
        for headers, text, calendar in words:
            mail = EmailMessage()
            for name, value in headers.items():
                mail[name] = value
            mail.set_content(text)
            if calendar:
                mail.add_alternative(calendar, subtype="calendar", params={"method": "PUBLISH"})
            link.send_message(mail)


def _bytes(port: int, bodies: Sequence[bytes]) -> None:
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
    days = [
        {
            "uid": f"job-{number}@farm.example.org",
            "start": f"2026-04-2{number}T11:40:00+00:00",
            "end": f"2026-04-2{number}T15:15:00+00:00",
            "summary": "Mow, North field",
            "location": "Long Reach",
            "description": "Way in: by the mill.",
        }
        for number in (5, 6)
    ]
    Notice.objects.bulk_create(
        Notice(
            **about,
            basis=uuid.uuid4().hex,
            payload={"title": f"Mow {number}", "lines": lines} | ({} if number % DAYS_EACH else {"events": days}),
            created_at=at,
            due_at=at,
        )
        for number in range(count)
    )


# Lateness


def lateness(rows: list[dict[str, Any]], ratios: dict[str, float], say: Say) -> bool:
    """Reminders that fall due one after the other while the real worker sweeps as its scheduler rings."""
    from tests.faults.ground import Process, ground, until
    from tests.faults.queues import unsent

    say(f"{DUE} reminders falling due over {OVER_S:g} s, the scheduler {QUICKER} times as quick ...")
    with ground("sqlite") as place, Process(place, sys.executable, "-m", "tests.bench.reminders", "worker"):
        until(lambda: place.count("SELECT count(*) FROM core_heartbeat"), 60, "the first sweep")
        place.run("-m", "tests.faults.queues", "notices", str(DUE), str(OVER_S / DUE))
        until(lambda: not unsent(place), 90, "the last")
        times = place.rows("SELECT due_at, sent_at FROM core_notice WHERE kind = 'fault'")
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
    """Walks of holdings in which nothing changed: what a wake finds among 1,000, one walk each, and one of everything.

    A walk of everything that was asked for notes when it was, in the graph's one row; that is all it may write."""
    from django.utils import timezone

    from core.models import Graph
    from jobs.services.walking import due_holdings, walk_holding
    from tests.bench.holdings import make
    from tests.bench.walk_stored import fill, weather

    say(f"{count} quiet holdings of {JOBS} jobs ...")
    others = set(due_holdings(timezone.now()))
    series, columns = weather(), make(JOBS, 1, real=False)
    holdings = [fill(columns, f"Quiet {number}", series).pk for number in range(count)]
    now = timezone.now()
    for pk in holdings:
        walk_holding(pk, now=now)
    later = now + timedelta(seconds=1)
    _more(Graph.objects.get(pk=holdings[0]), LOOKED_AT - count)
    looks = (
        (f"wake: which of {max(LOOKED_AT, count)} are due", lambda: due_holdings(later)),
        ("a walk of each", lambda: [walk_holding(pk, now=later) for pk in holdings]),
        ("a walk over everything of each", lambda: [walk_holding(pk, now=later, whole=True) for pk in holdings]),
    )
    written = 0
    for what, look in looks:
        asked, changed, (seconds, found) = _counted(look)
        if "wake" in what:  # a holding that is due is no quiet one
            written += len(set(found) - others)
        noted = changed.pop("core_graph", 0) if "everything" in what else 0
        written += sum(changed.values())
        shown = f"{asked} queries, {sum(changed.values())} rows written" + (
            f" but {noted} times of a walk" if noted else ""
        )
        rows.append(row(count * JOBS, what, seconds, None, shown))
    ratios["quiet_writes"] = written
    return written == 0


def _more(graph: Any, count: int) -> None:
    """So many holdings more whose graph row says what this one says: all that a wake asks for."""
    from core.models import Graph, Holding

    made = Holding.objects.bulk_create(Holding(name=f"Looked at {number}") for number in range(count))
    said = {"facts_version": graph.facts_version, "walked_version": graph.walked_version, "wake_at": graph.wake_at}
    Graph.objects.bulk_create(Graph(holding=holding, walked_at=graph.walked_at, **said) for holding in made)


_WRITES = re.compile(r"\b(?:INSERT INTO|UPDATE|DELETE FROM|REPLACE INTO)\s+\W?(\w+)", re.IGNORECASE)


def _counted(look: Any) -> tuple[int, Counter[str], tuple[float, Any]]:
    """(statements, rows written by table, what `timed` says)."""
    from django.db import connection

    asked, changed = [0], Counter[str]()

    def watch(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        answer = execute(sql, params, many, context)
        asked[0] += 1
        if sql.split(maxsplit=1)[0].upper() in ("INSERT", "UPDATE", "DELETE", "REPLACE", "WITH"):
            into = _WRITES.search(sql)
            if into:
                changed[into[1]] += max(context["cursor"].rowcount, 0)
        return answer

    with connection.execute_wrapper(watch):
        found = timed(look)
    return asked[0], changed, found


if __name__ == "__main__":
    worker()
