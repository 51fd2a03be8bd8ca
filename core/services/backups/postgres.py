"""Backup and restore of a PostgreSQL database, by the server's own tools.

What the tools need to connect goes to them by their environment, never by arguments, which every user of the machine
can read. A restore is one transaction: the schema with the old tables is renamed, the dump loaded and counted beside,
and only the commit makes the change; a cut at any moment leaves the old or the new.
"""

import os
import shutil
import subprocess
from contextlib import closing
from pathlib import Path
from typing import IO, Any

from django.core.management import call_command
from django.db import connection, transaction

from core.errors import Refused
from core.services.backups.archive import SESSIONS, Content, Manifest

OLD = "before_restore"
TABLES = "SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1"
UNTIL_DONE = (
    "SET LOCAL statement_timeout = 0; SET LOCAL lock_timeout = 0; SET LOCAL idle_in_transaction_session_timeout = 0"
)


def dump(to: Path) -> Content:
    """Dump and count in one snapshot, which no writer waits for."""
    with closing(connection.copy()) as link, link.cursor() as cursor:
        cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute(UNTIL_DONE)
        cursor.execute("SELECT pg_export_snapshot()")
        snapshot = cursor.fetchone()[0]
        cursor.execute("SELECT app || '.' || name FROM django_migrations ORDER BY 1")
        applied = tuple(name for (name,) in cursor.fetchall())
        cursor.execute(TABLES)
        rows = {}
        for table in [name for (name,) in cursor.fetchall() if name != SESSIONS]:
            cursor.execute(f'SELECT count(*) FROM public."{table}"')
            rows[table] = cursor.fetchone()[0]
        what = ["-Fc", "--no-owner", "--no-privileges", f"--exclude-table-data=public.{SESSIONS}", f"-N{OLD}"]
        _run([_tool("pg_dump"), *what, f"--snapshot={snapshot}", f"--file={to}"], stdout=subprocess.DEVNULL)
        cursor.execute("ROLLBACK")
    return Content(applied, rows)


def holds_something() -> bool:
    with connection.cursor() as cursor:
        cursor.execute(TABLES)
        there = {"core_holding", "core_user"} & {name for (name,) in cursor.fetchall()}
        for table in sorted(there):
            cursor.execute(f"SELECT EXISTS (SELECT 1 FROM {table})")
            if cursor.fetchone()[0]:
                return True
    return False


def load(dump: Path, manifest: Manifest) -> None:
    """Load and count the dump in one transaction, bring it up to the program's tables, then drop what it replaced."""
    _alone()
    connection.close()
    _replace(dump, manifest)
    try:
        call_command("migrate", verbosity=0)
    except BaseException:
        _swap(f"DROP SCHEMA public CASCADE; ALTER SCHEMA {OLD} RENAME TO public")
        raise
    _swap(f"DROP SCHEMA {OLD} CASCADE")


def _replace(dump: Path, manifest: Manifest) -> None:
    """Load the dump by one script that ends with the proof and the commit: a script cut short changes nothing."""
    script = dump.with_name("script")
    with script.open("wb", buffering=0) as out:
        aside = f"DROP SCHEMA IF EXISTS {OLD} CASCADE; ALTER SCHEMA public RENAME TO {OLD}; CREATE SCHEMA public"
        out.write(f"BEGIN; {UNTIL_DONE}; {aside};\n".encode())
        _run([_tool("pg_restore"), "--no-owner", "--no-privileges", "--file=-", str(dump)], stdout=out)
        for table, rows in sorted(manifest.rows.items()):
            name = '"' + table.replace('"', '""') + '"'
            out.write(
                f"DO $proof$ BEGIN IF (SELECT count(*) FROM public.{name}) <> {rows} THEN RAISE EXCEPTION "
                "'a table has not the rows that the manifest names'; END IF; END $proof$;\n".encode()
            )
        out.write(b"COMMIT;\n")
    _run([_tool("psql"), "-X", "-q", "-v", "ON_ERROR_STOP=1", f"--file={script}"], stdout=subprocess.DEVNULL)


def _alone() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid() "
            "AND backend_type = 'client backend'"
        )
        others = cursor.fetchone()[0]
    if others:
        raise Refused(
            f"{others} others are connected to the database. Stop web servers, workers and schedulers first, then "
            "restore. Nothing was changed."
        )


def _swap(statements: str) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(UNTIL_DONE)
        cursor.execute(statements)


def _tool(name: str) -> str:
    """The tool on the path, or the newest of Debian's installed versions."""
    versions = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda at: int(at.parts[-3].split(".")[0]))
    found = shutil.which(name) or (str(versions[-1]) if versions else None)
    if found is None:
        raise Refused(f"{name} is not installed. Install the client programs of PostgreSQL, of the server's version.")
    return found


def _environment() -> dict[str, str]:
    """The environment of a tool: where and as whom to connect, with the password."""
    known: dict[str, Any] = connection.settings_dict
    options = known.get("OPTIONS", {})
    given = {
        "PGHOST": known["HOST"],
        "PGPORT": known["PORT"],
        "PGUSER": known["USER"],
        "PGPASSWORD": known["PASSWORD"],
        "PGDATABASE": known["NAME"],
        **{f"PG{name.upper()}": options.get(name) for name in ("sslmode", "sslrootcert", "sslcert", "sslkey")},
    }
    return {**os.environ, "PGCONNECT_TIMEOUT": "10", **{name: str(value) for name, value in given.items() if value}}


def _run(command: list[str], *, stdout: IO[bytes] | int) -> None:
    """Run a tool to its end. Only the first error it says is told: the rest may quote rows, which name people."""
    done = subprocess.run(command, env=_environment(), stdout=stdout, stderr=subprocess.PIPE)
    if done.returncode:
        lines = done.stderr.decode("utf-8", "replace").splitlines()
        said = next((line for line in lines if "error" in line.lower()), "no reason was given")[:300]
        raise Refused(f"{Path(command[0]).name} failed: {said}. Nothing was changed.")
