"""Backup and restore of the embedded database.

Copying its file is no backup: the newest part may still stand in the write-ahead log.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from django.core.management import call_command
from django.db import connection
from django.db.backends.sqlite3._functions import register  # type: ignore[import-untyped]

from core.errors import Refused
from core.services.backups.archive import SESSIONS, Content, Manifest, keep_names

WAIT_S = 20.0
OPEN = (
    "Somebody still has the database open. Stop `serve`, senders and every other command first, then restore. "
    "Nothing was changed."
)


def dump(to: Path) -> Content:
    """Copy what is committed, in one reading transaction that no writer waits for, and prove the copy."""
    with closing(_opened(Path(connection.settings_dict["NAME"]))) as source:
        source.execute("VACUUM INTO ?", (str(to),))
    with closing(_opened(to)) as copy:
        copy.execute("PRAGMA secure_delete=ON")
        if SESSIONS in _tables(copy):
            copy.execute(f"DELETE FROM {SESSIONS}")
        _prove(copy)
        return _content(copy)


def holds_something() -> bool:
    path = Path(connection.settings_dict["NAME"])
    if not path.exists():
        return False
    with closing(_opened(path)) as link:
        there = {"core_holding", "core_user"} & set(_tables(link))
        return any(link.execute(f"SELECT EXISTS (SELECT 1 FROM {table})").fetchone()[0] for table in there)


def load(dump: Path, manifest: Manifest) -> None:
    """Prove the dump, bring it up to the program's tables, then rename it into the database's place."""
    with closing(_opened(dump)) as copy:
        try:
            _prove(copy)
        except sqlite3.DatabaseError as error:
            raise Refused(f"The database in the file is damaged ({error}). Nothing was changed.") from error
        if _content(copy) != Content(manifest.migrations, manifest.rows):
            raise Refused("The database in the file is not what its manifest says. Nothing was changed.")
    _migrate(dump)
    with closing(_opened(dump)) as copy:
        copy.execute("PRAGMA synchronous=FULL")
        copy.execute("PRAGMA journal_mode=DELETE")
        _prove(copy)
    path = Path(connection.settings_dict["NAME"])
    with dump.open("rb+") as handle:
        os.fsync(handle.fileno())
    with _alone(path):
        dump.replace(path)
    keep_names(path.parent)


def _migrate(path: Path) -> None:
    """Bring another file than the database in use up to the program's tables, with what the program ships."""
    in_use = connection.settings_dict["NAME"]
    connection.close()
    connection.settings_dict["NAME"] = str(path)
    try:
        call_command("migrate", verbosity=0)
    finally:
        connection.close()
        connection.settings_dict["NAME"] = in_use


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Hold the database's file for ourselves, its log folded into it. Leaving the write-ahead log needs to be alone."""
    if not path.exists():
        yield
        return
    with closing(_opened(path, wait_s=1.0)) as link:
        try:
            link.execute("PRAGMA journal_mode=DELETE")
            link.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            raise Refused(OPEN) from error
        yield


def _opened(path: Path, wait_s: float = WAIT_S) -> sqlite3.Connection:
    """A plain connection that knows the functions which the tables' checks call."""
    link = sqlite3.connect(path, timeout=wait_s, isolation_level=None)
    register(link)
    return link


def _prove(link: sqlite3.Connection) -> None:
    said = link.execute("PRAGMA integrity_check").fetchone()[0]
    loose = link.execute("PRAGMA foreign_key_check").fetchone()
    if said != "ok" or loose:
        raise sqlite3.DatabaseError(said if said != "ok" else f"a row of {loose[0]} points at nothing")


def _content(link: sqlite3.Connection) -> Content:
    applied = link.execute("SELECT app || '.' || name FROM django_migrations ORDER BY 1").fetchall()
    rows = {table: link.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0] for table in _tables(link)}
    return Content(tuple(name for (name,) in applied), {name: n for name, n in rows.items() if name != SESSIONS})


def _tables(link: sqlite3.Connection) -> list[str]:
    query = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name"
    return [name for (name,) in link.execute(query)]
