"""Places to run the program in: a data folder and an empty database each, on the engine that DATABASE_URL names."""

import atexit
import functools
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from urllib.parse import urlsplit

import psycopg

ROOT = Path(__file__).resolve().parents[2]
FILE = "readyground.sqlite3"


@dataclass(frozen=True)
class Place:
    data: Path
    url: str

    @property
    def environment(self) -> dict[str, str]:
        here = {"DJANGO_SETTINGS_MODULE": "core.settings", "READYGROUND_DATA": str(self.data), "DATABASE_URL": self.url}
        return {**os.environ, **here}

    def run(self, *arguments: str, expect: int = 0, seconds: float = 300) -> str:
        """What a run of Python with these arguments prints here: `run("manage.py", "backup", name)`."""
        command = [sys.executable, *arguments]
        done = subprocess.run(command, cwd=ROOT, env=self.environment, capture_output=True, text=True, timeout=seconds)
        assert done.returncode == expect, (arguments, done.stdout, done.stderr)
        return done.stdout + done.stderr

    def start(self, *arguments: str, output: IO[bytes] | None = None) -> "subprocess.Popen[bytes]":
        return subprocess.Popen(
            [sys.executable, *arguments],
            cwd=ROOT,
            env=self.environment,
            stdout=output,
            stderr=output,
            start_new_session=True,
        )

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Rows of the database, read past the program."""
        if self.url.startswith("sqlite"):
            with closing(sqlite3.connect(self.data / FILE, timeout=20)) as link:
                return link.execute(query).fetchall()
        with psycopg.connect(self.url) as link:
            return link.execute(query).fetchall()


@functools.cache
def _with_tables(server: str) -> Place:
    """What others with tables are copied from; made once a process, as the making takes longer than most tests."""
    made = ExitStack()
    atexit.register(made.close)
    (kept,) = made.enter_context(places(1, server=server))
    kept.run("manage.py", "migrate", "-v", "0")
    if kept.url.startswith("sqlite"):  # what stands in the write-ahead log goes into the file, which is copied alone
        kept.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    return kept


def lay_tables(folder: Path) -> None:
    """Put an SQLite file with all tables and nothing in them into a data folder."""
    shutil.copy(_with_tables("").data / FILE, folder)


@contextmanager
def places(count: int, *, tables: bool = False, server: str | None = None) -> Iterator[list[Place]]:
    """So many empty places on the engine that DATABASE_URL names or on this server, which go at the end; with `tables`
    they have all tables and nothing in them."""
    server = os.environ.get("DATABASE_URL", "") if server is None else server
    with tempfile.TemporaryDirectory(prefix="places-") as top:
        folders = [Path(top) / str(number) for number in range(count)]
        for folder in folders:
            folder.mkdir()
        if not server.startswith("postgres"):
            for folder in folders if tables else ():
                lay_tables(folder)
            yield [Place(folder, f"sqlite:///{folder / FILE}") for folder in folders]
            return
        names = [f"place_{uuid.uuid4().hex}" for _ in folders]
        template = f"TEMPLATE {_with_tables(server).url.rpartition('/')[2]}" if tables else ""
        with psycopg.connect(server, autocommit=True) as link:
            for name in names:
                link.execute(f"CREATE DATABASE {name} {template}")
            try:
                at = urlsplit(server)
                yield [Place(f, at._replace(path=f"/{name}").geturl()) for f, name in zip(folders, names, strict=True)]
            finally:
                for name in names:
                    link.execute(f"DROP DATABASE {name} WITH (FORCE)")
