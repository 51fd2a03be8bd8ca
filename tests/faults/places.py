"""Places to run the program in: a data folder and an empty database each, on the engine that DATABASE_URL names."""

import os
import sqlite3
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from urllib.parse import urlsplit

import psycopg

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Place:
    data: Path
    url: str

    @property
    def environment(self) -> dict[str, str]:
        here = {"DJANGO_SETTINGS_MODULE": "core.settings", "READYGROUND_DATA": str(self.data), "DATABASE_URL": self.url}
        return {**os.environ, **here}

    def run(self, *arguments: str, expect: int = 0) -> str:
        """What a run of Python with these arguments prints here: `run("manage.py", "backup", name)`."""
        done = subprocess.run(
            [sys.executable, *arguments], cwd=ROOT, env=self.environment, capture_output=True, text=True, timeout=300
        )
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
            with closing(sqlite3.connect(self.data / "readyground.sqlite3", timeout=20)) as link:
                return link.execute(query).fetchall()
        with psycopg.connect(self.url) as link:
            return link.execute(query).fetchall()


@contextmanager
def places(count: int) -> Iterator[list[Place]]:
    """So many empty places, which go at the end."""
    server = os.environ.get("DATABASE_URL", "")
    with tempfile.TemporaryDirectory(prefix="places-") as top:
        folders = [Path(top) / str(number) for number in range(count)]
        for folder in folders:
            folder.mkdir()
        if not server.startswith("postgres"):
            yield [Place(folder, f"sqlite:///{folder / 'readyground.sqlite3'}") for folder in folders]
            return
        names = [f"place_{uuid.uuid4().hex}" for _ in folders]
        with psycopg.connect(server, autocommit=True) as link:
            for name in names:
                link.execute(f"CREATE DATABASE {name}")
            try:
                at = urlsplit(server)
                yield [Place(f, at._replace(path=f"/{name}").geturl()) for f, name in zip(folders, names, strict=True)]
            finally:
                for name in names:
                    link.execute(f"DROP DATABASE {name} WITH (FORCE)")
