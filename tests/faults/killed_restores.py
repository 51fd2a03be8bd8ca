"""Fault 23: a restore over a database that holds something is killed half way.

    python -m tests.faults.killed_restores FILE     (in a place: a backup written over what is there, bit by bit)

After the kill the database is the old one or the new one, row by row and with its guards, and a second restore works.
The control writes the new over the old without a second place for it: what a kill leaves is neither.
"""

import hashlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import zipfile
from pathlib import Path
from typing import Any

import psycopg

from tests.faults.ground import ENGINES, Ground, Process, ground, until
from tests.faults.places import FILE

CARELESS = (sys.executable, "-m", "tests.faults.killed_restores")
OTHERS = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"


def killed(rounds: int) -> dict[str, Any]:
    """23: so many kills on each database, each at another moment of the restore's work; every other one hits the
    command alone and leaves the tools that it called."""
    begun, dice = time.monotonic(), random.Random(23)
    whole = done = neither = not_again = control = 0
    for engine in ENGINES:
        with ground(engine) as source, ground(engine) as bare:
            source.run("-m", "tests.faults.restores", "fill")
            place = bare.having(TMPDIR=str(bare.data))
            old, new = place.data / "old.zip", place.data / "new.zip"
            source.run("manage.py", "backup", str(new))
            place.run("manage.py", "backup", str(old))
            states = {}
            for file in (new, old):
                takes_s = _undisturbed(place, file)
                states[_state(place)] = file
            assert len(states) == 2, "the old and the new are alike, and what follows would show nothing"
            held, given = old, new
            for _ in range(rounds):
                _kill(place, _command(given), takes_s * dice.random() ** 2, alone=dice.random() < 0.5)
                left = states.get(_state(place))
                whole, done, neither = whole + int(left == held), done + int(left == given), neither + int(not left)
                _undisturbed(place, given)
                not_again += int(states.get(_state(place)) != given)
                held, given = given, held
            for _ in range(max(1, rounds // 5)):
                _kill(place, (*CARELESS, str(given)), dice.uniform(0.15, 0.3), alone=False)
                control += int(_state(place) not in states)
    return {
        "fault": 23,
        "what": f"a restore killed half way: {whole} times the old is left whole, {done} times the new is in its "
        "place; then restored",
        "count": rounds * len(ENGINES),
        "lost": neither + not_again + int(not whole),
        "doubled": 0,
        "control_failed": control,
        "control": f"a backup written over the old and killed: {control} times neither of both is left",
        "seconds": round(time.monotonic() - begun, 1),
    }


FAULTS = {23: killed}


def _command(file: Path) -> tuple[str, ...]:
    return (sys.executable, "manage.py", "restore", str(file), "--replace")


def _started(place: Ground, command: tuple[str, ...]) -> Process:
    """A restore that has begun its work, which is when it has made a folder of its own."""
    before = set(place.data.glob(".restore-*"))
    process = Process(place, *command)
    until(lambda: set(place.data.glob(".restore-*")) - before or process.process.poll() is not None, 60, "the work")
    return process


def _undisturbed(place: Ground, file: Path) -> float:
    """Restore this one; the seconds that the work took."""
    with _started(place, _command(file)) as restoring:
        begun = time.monotonic()
        assert restoring.process.wait(120) == 0, restoring.log.read_text()
        return time.monotonic() - begun


def _kill(place: Ground, command: tuple[str, ...], after_s: float, *, alone: bool) -> None:
    """Kill a restore so long after it began its work, and wait until nobody works on the database any more."""
    with _started(place, command) as restoring:
        time.sleep(after_s)
        if alone:
            os.kill(restoring.pid, signal.SIGKILL)
            restoring.process.wait()
            _quiet(place)
    _quiet(place)


def _quiet(place: Ground) -> None:
    if place.url.startswith("postgres"):
        until(lambda: not place.count(f"{OTHERS} AND backend_type = 'client backend'"), 60, "the end of all tools")


def _state(place: Ground) -> str:
    """What stands in the database, rows and guards, as a sum; sessions aside."""
    try:
        return hashlib.sha256(repr(_content(place)).encode()).hexdigest()
    except (sqlite3.DatabaseError, psycopg.Error) as error:
        return str(error)


def _content(place: Ground) -> list[Any]:
    if place.url.startswith("sqlite"):
        made = place.rows("SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' ORDER BY name")
        names = [name for name, sql in made if str(sql).startswith("CREATE TABLE")]
        rows = 'SELECT * FROM "{}" ORDER BY 1'
    else:
        triggers = "SELECT tgname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid WHERE NOT tgisinternal"
        made = place.rows(f"{triggers} AND relnamespace = 'public'::regnamespace ORDER BY 1")
        names = [
            name for (name,) in place.rows("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1")
        ]
        rows = 'SELECT t::text FROM public."{}" t ORDER BY 1'
    return [made, [(name, place.rows(rows.format(name))) for name in names if name != "django_session"]]


# What runs in the place


def carelessly(file: Path) -> None:
    """Put a backup over the database that is there, as a copy or a plain `pg_restore --clean` does."""
    with tempfile.TemporaryDirectory(prefix=".restore-") as folder:
        with zipfile.ZipFile(file) as packed:
            dump = Path(packed.extract("database", folder))
        if os.environ["DATABASE_URL"].startswith("sqlite"):
            _write_over(Path(os.environ["READYGROUND_DATA"]) / FILE, dump.read_bytes())
            return
        tool = shutil.which("pg_restore") or str(sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_restore"))[-1])
        subprocess.run([tool, "--clean", "--if-exists", "-d", os.environ["DATABASE_URL"], str(dump)], check=True)


def _write_over(file: Path, content: bytes) -> None:
    with file.open("r+b", buffering=0) as handle:
        for at in range(0, len(content), 16_384):
            handle.write(content[at : at + 16_384])
            time.sleep(0.01)


if __name__ == "__main__":
    carelessly(Path(sys.argv[1]))
