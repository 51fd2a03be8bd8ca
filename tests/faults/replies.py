"""Faults 13 and 14: the answer to a report is lost and it comes again, eight times at once; an id is used twice.

The control of 13 looks first and inserts then, in a bare table of the same database; it must double. The control of 14
looks for the id alone among the stored reports; it must take other content for what is stored.
"""

import sqlite3
import time
import uuid
from collections.abc import Callable
from contextlib import closing
from threading import Barrier, Thread
from typing import Any

import psycopg

from tests.faults.ground import ENGINES, Ground, Web, ask, ground
from tests.faults.proxy import Proxy

AT_ONCE = 8
WHEN = "2026-05-09T10:40:00-05:00"


def reply_lost(rounds: int) -> dict[str, Any]:
    """13: a report whose answer is dropped, then the same report eight times at once."""
    begun = time.monotonic()
    lost = doubled = different = control = 0
    for engine in ENGINES:
        with ground(engine) as place, Web(place) as web, Proxy(web.port) as proxy:
            for number in range(rounds):
                body = _body(place, number)
                proxy.once("drop")
                try:
                    ask(proxy.port, "POST", "/api/reports/", place.told["helper"], body)
                except OSError:
                    pass
                else:
                    raise AssertionError("the proxy let an answer through that it was to drop")
                answers = at_once(
                    lambda body=body: ask(proxy.port, "POST", "/api/reports/", place.told["helper"], body)
                )
                different += int(len(set(answers)) != 1 or answers[0][0] != 201)
            found = [str(uuid.UUID(str(row[0]))) for row in place.rows("SELECT client_id FROM jobs_report")]
            lost += rounds - len(set(found))
            doubled += len(found) - len(set(found))
            control += _looked_first(place, rounds)
    return {
        "fault": 13,
        "what": f"reply to a report dropped, then {AT_ONCE} times at once",
        "count": rounds * len(ENGINES),
        "lost": lost,
        "doubled": doubled + different,
        "control_failed": control,
        "control": "look, then insert, in a bare table: rows too many",
        "seconds": round(time.monotonic() - begun, 1),
    }


def id_used_twice(rounds: int) -> dict[str, Any]:
    """14: the id of a stored report with another content is refused and changes nothing; another person's is apart.

    The same content again must be answered with its receipt, else the refusal would prove nothing."""
    begun = time.monotonic()
    lost = doubled = control = 0
    for engine in ENGINES:
        with ground(engine) as place, Web(place) as web:
            for number in range(rounds):
                body = _body(place, number)
                other, mine = body | {"note": "other"}, body | {"note": "mine"}
                said = [
                    ask(web.port, "POST", "/api/reports/", place.told[who], content)
                    for who, content in (("helper", body), ("helper", other), ("manager", mine), ("helper", body))
                ]
                query = (
                    f"SELECT note FROM jobs_report WHERE client_id = '{_stored(place, body['client_id'])}' ORDER BY id"
                )
                notes = [row[0] for row in place.rows(query)]
                lost += int([status for status, _ in said] != [201, 422, 201, 201] or said[0] != said[3])
                doubled += int(notes != ["", "mine"])
                control += int(_by_id_alone(place, other) not in (None, "other"))
    return {
        "fault": 14,
        "what": "an id used again: other content 422, other person independent",
        "count": rounds * len(ENGINES),
        "lost": lost,
        "doubled": doubled,
        "control_failed": control,
        "control": f"a look-up by id alone took other content for what was stored {control} times",
        "seconds": round(time.monotonic() - begun, 1),
    }


def _by_id_alone(place: Ground, body: dict[str, Any]) -> str | None:
    """The note of the report that a look without the hash answers this one with; None where it finds none."""
    found = place.rows(
        f"SELECT note FROM jobs_report WHERE client_id = '{_stored(place, body['client_id'])}' ORDER BY id LIMIT 1"
    )
    return str(found[0][0]) if found else None


def at_once(run: Callable[[], Any], times: int = AT_ONCE) -> list[Any]:
    """The results of so many runs that start together; an error of one is its result."""
    start, results = Barrier(times, timeout=30), []

    def one() -> None:
        start.wait()
        try:
            results.append(run())
        except Exception as error:
            results.append(error)

    threads = [Thread(target=one) for _ in range(times)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results


def _body(place: Ground, number: int) -> dict[str, Any]:
    jobs = place.told["jobs"]
    return {"client_id": str(uuid.uuid4()), "job": jobs[number % len(jobs)], "kind": "start", "happened_at": WHEN}


def _stored(place: Ground, client_id: str) -> str:
    """As the database writes it: SQLite knows no type of its own for these ids."""
    return client_id.replace("-", "") if place.url.startswith("sqlite") else client_id


def _looked_first(place: Ground, rounds: int) -> int:
    """Rows too many when each of eight looks whether the id is there and inserts it if it is not."""
    sqlite = place.url.startswith("sqlite")
    mark = "?" if sqlite else "%s"

    def link() -> Any:
        if sqlite:
            return sqlite3.connect(place.data / "readyground.sqlite3", timeout=20, isolation_level=None)
        return psycopg.connect(place.url, autocommit=True)

    def look_then_insert(key: str) -> None:
        with closing(link()) as own:
            if not own.execute(f"SELECT 1 FROM control WHERE id = {mark}", (key,)).fetchall():
                time.sleep(0.002)
                own.execute(f"INSERT INTO control VALUES ({mark})", (key,))

    with closing(link()) as own:
        own.execute("CREATE TABLE control (id TEXT)")
    for number in range(rounds):
        at_once(lambda key=str(number): look_then_insert(key))
    return place.count("SELECT count(*) - count(DISTINCT id) FROM control")


FAULTS = {13: reply_lost, 14: id_used_twice}
