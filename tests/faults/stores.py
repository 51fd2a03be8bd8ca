"""Faults 10, 11 and 12: the database server stops mid-write, the writer is killed, the disk is full.

Reporters post without pause and keep a ledger of every id that was answered with 201. What is in the ledger must be in
the database afterwards, once.
"""

import os
import random
import re
import shutil
import sqlite3
import subprocess
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

from tests.faults.ground import Ground, Missing, Postgres, Web, ask, ground, until

REPORTERS = 3


class Reporters:
    """Threads that post reports to a port, each again until it is answered; `taken` holds the ids answered with 201."""

    def __init__(self, place: Ground, port: int) -> None:
        self.taken: list[str] = []
        self.other: dict[int, int] = {}
        self._place, self._port = place, port
        self._stop = threading.Event()
        self._threads = [threading.Thread(target=self._run, args=(number,)) for number in range(REPORTERS)]

    def __enter__(self) -> "Reporters":
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._stop.set()
        for thread in self._threads:
            thread.join()

    def grown(self, by: int, seconds: float = 60) -> None:
        """Wait until so many more are answered."""
        begin = len(self.taken)
        until(lambda: len(self.taken) >= begin + by, seconds, "the reports")

    def _run(self, number: int) -> None:
        token, job = self._place.told["helper"], self._place.told["jobs"][number]
        while not self._stop.is_set():
            body = {"client_id": str(uuid.uuid4()), "job": job, "kind": "start", "happened_at": "2026-05-09T10:40:00Z"}
            body["note"] = "Dry. " * 40
            while not self._stop.is_set():
                try:
                    status = ask(self._port, "POST", "/api/reports/", token, body, timeout=10)[0]
                except OSError:
                    status = 0
                if status == 201:
                    self.taken.append(body["client_id"])
                    break
                self.other[status] = self.other.get(status, 0) + 1
                time.sleep(0.05)


def stored(place: Ground) -> list[str]:
    return [str(uuid.UUID(str(row[0]))) for row in place.rows("SELECT client_id FROM jobs_report")]


def stopped(rounds: int) -> dict[str, Any]:
    """10: `pg_ctl stop -m immediate` while reports are written; after the start every acknowledged one is there.

    The control does the same with commits that are not waited for, which is what a careless setting does."""
    begun = time.monotonic()
    server = Postgres(fsync=True)
    try:
        with ground("postgresql") as kept:
            server.ask("CREATE DATABASE stopped")
            server.copy(kept.url, "stopped")
            place = kept.having(url=server.url("stopped"))
            with Web(place) as web:
                lost, doubled, acknowledged, slowest = _stopped(server, place, web, rounds)
                server.ask("ALTER SYSTEM SET synchronous_commit = off")
                server.ask("ALTER SYSTEM SET wal_writer_delay = '10s'")
                server.stop("fast")
                server.start()
                control = _stopped(server, place, web, max(1, rounds // 10))[0]
    finally:
        server.remove()
    return {
        "fault": 10,
        "what": f"PostgreSQL stopped mid-write; {acknowledged} reports acknowledged; back in {slowest:.1f} s at most",
        "count": rounds,
        "lost": lost,
        "doubled": doubled,
        "control_failed": control,
        "control": "commits not waited for: acknowledged reports lost",
        "seconds": round(time.monotonic() - begun, 1),
    }


def _stopped(server: Postgres, place: Ground, web: Web, rounds: int) -> tuple[int, int, int, float]:
    """(lost, doubled, acknowledged, slowest return to work in seconds)."""
    lost: set[str] = set()
    slowest = 0.0
    with Reporters(place, web.port) as reporters:
        for _ in range(rounds):
            reporters.grown(10)
            server.stop("immediate")
            acknowledged = list(reporters.taken)
            at = time.monotonic()
            server.start()
            lost |= set(acknowledged) - set(stored(place))
            reporters.grown(1)
            slowest = max(slowest, time.monotonic() - at)
    found = stored(place)
    lost |= set(reporters.taken) - set(found)
    return len(lost), len(found) - len(set(found)), len(reporters.taken), slowest


def killed(rounds: int) -> dict[str, Any]:
    """11: SQLite: kill -9 of the writing web server, and a backup in every round while it writes.

    After each: the file is sound, all acknowledged reports are in it, and the backup restores with all that were
    acknowledged before it began. The control is a plain copy of the database file in the place of the backup."""
    begun = time.monotonic()
    dice, lost, doubled, control, acknowledged = random.Random(11), 0, 0, 0, 0
    with ground("sqlite") as place, ground("sqlite") as other:
        file = place.data / "readyground.sqlite3"
        for number in range(rounds):
            with Web(place) as web, Reporters(place, web.port) as reporters:
                reporters.grown(20)
                before, backup = list(reporters.taken), place.data / f"backup-{number}"
                copy = place.data / f"copy-{number}"
                shutil.copy(file, copy)
                control += int(not _sound(copy, before))
                place.run("manage.py", "backup", str(backup))
                reporters.grown(5)
                time.sleep(dice.uniform(0, 0.3))
                web.kill()
            found = stored(place)
            lost += len(set(reporters.taken) - set(found)) + int(not _sound(file, reporters.taken))
            doubled += len(found) - len(set(found))
            acknowledged += len(reporters.taken)
            other.run("manage.py", "restore", str(backup), "--replace")
            lost += len(set(before) - set(stored(other)))
            for each in (backup, copy):
                each.unlink()
    return {
        "fault": 11,
        "what": f"SQLite writer killed, backup each round; {acknowledged} reports acknowledged",
        "count": rounds,
        "lost": lost,
        "doubled": doubled,
        "control_failed": control,
        "control": "plain copies of the file under load that miss an acknowledged report or are unsound",
        "seconds": round(time.monotonic() - begun, 1),
    }


def _sound(file: Path, expected: list[str]) -> bool:
    """Whether a database file opens, is sound, and holds these reports."""
    try:
        with closing(sqlite3.connect(file)) as link:
            link.create_function("REGEXP", 2, lambda pattern, text: bool(re.search(pattern, str(text))))
            sound = link.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            found = {str(uuid.UUID(row[0])) for row in link.execute("SELECT client_id FROM jobs_report")}
            return sound and found >= set(expected)
    except sqlite3.Error:
        return False


def full(rounds: int) -> dict[str, Any]:
    """12: the disk fills up (a memory disk of 12 MB): reports are refused with 503 or 507, none is half stored, and
    once there is room they are taken again.

    The control appends the same reports to a plain file on that disk, and finds a half line at its end."""
    begun = time.monotonic()
    lost = doubled = control = refused = 0
    with ground("sqlite") as bare, memory_disk(bare.data / "disk") as disk:
        shutil.move(bare.data / "readyground.sqlite3", disk)
        place = Ground(disk, f"sqlite:///{disk / 'readyground.sqlite3'}", bare.told)
        with Web(place) as web:
            taken: list[str] = []
            for _ in range(rounds):
                fill = disk / "filler"
                lost += _post(place, web, taken, 5, good={201})
                _fill_up(fill)
                at_full = len(taken)
                lost += _post(place, web, taken, 60, good={201, 503, 507})
                refused += 60 - (len(taken) - at_full)
                control += int(not _append(disk / "plain").endswith(b"\n"))
                fill.unlink()
                (disk / "plain").unlink(missing_ok=True)
                lost += _post(place, web, taken, 5, good={201})
            found = stored(place)
            half = place.count("SELECT count(*) FROM jobs_report WHERE receipt = '{}'")
            events = place.count("SELECT count(*) FROM core_event WHERE verb = 'reported'")
            sound = _sound(disk / "readyground.sqlite3", taken)
            lost += len(set(taken) - set(found)) + int(not sound) + half + abs(events - len(found)) + int(not refused)
            doubled += len(found) - len(set(found))
    return {
        "fault": 12,
        "what": f"disk full: {refused} reports refused, none half stored, all taken with room again",
        "count": rounds,
        "lost": lost,
        "doubled": doubled,
        "control_failed": control,
        "control": "half lines at the end of a plain file on that disk",
        "seconds": round(time.monotonic() - begun, 1),
    }


@contextmanager
def memory_disk(folder: Path) -> Iterator[Path]:
    """A disk of 12 MB in memory.

    Raises:
        Missing: this user may not mount one.
    """
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=12m", "tmpfs", str(folder)]
    if shutil.which("mount") is None or subprocess.run(command, capture_output=True).returncode:
        raise Missing("a small disk in memory (mount as root)")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def _fill_up(file: Path) -> None:
    with file.open("wb") as handle, suppress(OSError):
        while True:
            os.write(handle.fileno(), b"\0" * 4096)


def _append(file: Path) -> bytes:
    """Append lines to a plain file until the disk takes no more; its last byte."""
    file.write_bytes(b"")
    room = file.with_name("filler")
    with room.open("r+b") as handle:
        handle.truncate(max(0, room.stat().st_size - 10 * 4096))
    with file.open("ab", buffering=0) as handle, suppress(OSError):
        while handle.write(b"a report as one line" * 11 + b"\n") == 221:
            pass
    return file.read_bytes()[-1:]


def _post(place: Ground, web: Web, taken: list[str], count: int, good: set[int]) -> int:
    """Post so many reports; how many of the answers are not among the good."""
    wrong = 0
    for number in range(count):
        body = {"client_id": str(uuid.uuid4()), "job": place.told["jobs"][number % 12], "kind": "start"}
        body |= {"happened_at": "2026-05-09T10:40:00Z", "note": "Dry. " * 700}
        status, _ = ask(web.port, "POST", "/api/reports/", place.told["helper"], body)
        wrong += int(status not in good)
        if status == 201:
            taken.append(body["client_id"])
    return wrong


FAULTS = {10: stopped, 11: killed, 12: full}
