"""What a fault needs to stand on: a filled database on SQLite or on a PostgreSQL of its own, a Redis, web servers.

python -m tests.faults.ground fill      (in a place: tables, a holding, people, jobs; prints JSON about them)
"""

import atexit
import functools
import http.client
import json
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg

from tests.faults.places import ROOT, Place, lay_tables

JOBS = 12
ENGINES = ("sqlite", "postgresql")


class Missing(Exception):
    """A server that the fault needs is not on this machine."""


@dataclass(frozen=True)
class Ground(Place):
    """A place with a holding in it. `told` has ids and secrets: manager, helper, other (tokens), jobs, holding."""

    told: dict[str, Any]
    more: tuple[tuple[str, str], ...] = ()

    @property
    def environment(self) -> dict[str, str]:
        clean = {name: value for name, value in super().environment.items() if name not in ("REDIS_URL", "CI_SERVICES")}
        return clean | {"PYTHONUNBUFFERED": "1"} | dict(self.more)

    def having(self, **more: str) -> "Ground":
        """The same with more in the environment: `ground.having(REDIS_URL=...)`."""
        return Ground(self.data, more.pop("url", self.url), self.told, (*self.more, *more.items()))

    def count(self, query: str) -> int:
        return int(self.rows(query)[0][0])


@contextmanager
def ground(engine: str) -> Iterator[Ground]:
    """A filled database of its own on this engine, gone at the end."""
    with tempfile.TemporaryDirectory(prefix="ground-") as top:
        data = Path(top)
        kept = _filled(engine)
        if engine == "sqlite":
            shutil.copy(kept.data / "readyground.sqlite3", data)
            yield Ground(data, f"sqlite:///{data / 'readyground.sqlite3'}", kept.told)
            return
        server, name = shared_postgres(), f"ground_{uuid.uuid4().hex}"
        server.ask(f"CREATE DATABASE {name} TEMPLATE {kept.url.rpartition('/')[2]}")
        try:
            yield Ground(data, server.url(name), kept.told)
        finally:
            server.ask(f"DROP DATABASE {name} WITH (FORCE)")


@functools.cache
def _filled(engine: str) -> Ground:
    """The database that others are copied from; made once a run."""
    folder = Path(tempfile.mkdtemp(prefix="ground-kept-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    url = f"sqlite:///{folder / 'readyground.sqlite3'}"
    if engine == "postgresql":
        shared_postgres().ask("CREATE DATABASE kept")
        url = shared_postgres().url("kept")
    else:
        lay_tables(folder)
    bare = Ground(folder, url, {})
    told = json.loads(bare.run("-m", "tests.faults.ground", "fill").splitlines()[-1])
    if engine == "sqlite":  # what stands in the write-ahead log goes into the file, which is copied alone
        bare.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    return Ground(folder, url, told)


# Servers


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def until(true: Callable[[], Any], seconds: float, what: str) -> float:
    """How long it took to become true.

    Raises:
        AssertionError: it did not.
    """
    begun = time.monotonic()
    while not true():
        assert time.monotonic() < begun + seconds, f"{what} did not come in {seconds:g} s"
        time.sleep(0.02)
    return time.monotonic() - begun


class Postgres:
    """A PostgreSQL server of our own, as user postgres where we are root, which it refuses to run as."""

    def __init__(self, *, fsync: bool = False) -> None:
        found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
        if not found:
            raise Missing("PostgreSQL")
        self._bin = found[-1].parent
        self.folder = Path(tempfile.mkdtemp(prefix="postgres-"))
        self._as: list[str] = []
        if os.geteuid() == 0:
            self._as = ["runuser", "-u", "postgres", "--"]
            os.chown(self.folder, pwd.getpwnam("postgres").pw_uid, -1)
        self.port = free_port()
        self._settings = f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1 -c max_connections=60"
        if not fsync:
            self._settings += " -c fsync=off"
        self._run("initdb", "-U", "ready", "-A", "trust", "-E", "UTF8", "--no-sync")
        self.start()

    def url(self, database: str, port: int | None = None) -> str:
        return f"postgres://ready@127.0.0.1:{port or self.port}/{database}"

    def ask(self, statement: str) -> None:
        with psycopg.connect(self.url("postgres"), autocommit=True) as link:
            link.execute(statement)

    def copy(self, source: str, name: str) -> None:
        """Fill the empty database `name` with what another server's database holds."""
        dump = subprocess.Popen([str(self._bin / "pg_dump"), source], stdout=subprocess.PIPE)
        command = [str(self._bin / "psql"), "-q", "-v", "ON_ERROR_STOP=1", self.url(name)]
        subprocess.run(command, stdin=dump.stdout, stdout=subprocess.DEVNULL, check=True)
        assert dump.wait() == 0

    def start(self) -> None:
        self._run("pg_ctl", "-l", str(self.folder / "log"), "-w", "-t", "60", "-o", self._settings, "start")

    def stop(self, mode: str) -> None:
        """`immediate` ends it without a word to anybody, as a fault would; the next start recovers from the log."""
        self._run("pg_ctl", "-m", mode, "-w", "stop")

    def remove(self) -> None:
        self.stop("immediate")
        shutil.rmtree(self.folder, ignore_errors=True)

    def _run(self, program: str, *arguments: str) -> None:
        command = [*self._as, str(self._bin / program), "-D", str(self.folder / "data"), *arguments]
        done = subprocess.run(command, cwd="/", stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, timeout=120)
        assert done.returncode == 0, (program, done.stderr)


@functools.cache
def shared_postgres() -> Postgres:
    """One server for all databases of this run that nobody stops."""
    server = Postgres()
    atexit.register(server.remove)
    return server


class Redis:
    """A Redis of our own. With `keeps`, it writes an append-only file and finds it again at the next start."""

    def __init__(self, *, keeps: bool = False) -> None:
        if shutil.which("redis-server") is None:
            raise Missing("Redis")
        self.folder = tempfile.mkdtemp(prefix="redis-")
        self.port = free_port()
        self._keeps = keeps
        self.process: subprocess.Popen[bytes] | None = None
        self.start()

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        keep = ["--appendonly", "yes" if self._keeps else "no", "--save", ""]
        command = ["redis-server", "--port", str(self.port), "--bind", "127.0.0.1", "--dir", self.folder, *keep]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        until(self._answers, 20, "Redis")

    def _answers(self) -> bool:
        try:
            return self.ask("PING").startswith(b"+PONG")
        except OSError:
            return False

    def ask(self, words: str) -> bytes:
        """The first bytes of the answer to an inline command."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=5) as link:
            link.sendall(words.encode() + b"\r\n")
            return link.recv(4096)

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None

    def __enter__(self) -> "Redis":
        return self

    def __exit__(self, *error: object) -> None:
        self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)


class Process:
    """A process with children in a session of its own, which all go at the end."""

    def __init__(self, place: Ground, *command: str) -> None:
        self.log = place.data / f"log-{uuid.uuid4().hex}"
        with self.log.open("wb") as out:
            self.process = subprocess.Popen(
                command, cwd=ROOT, env=place.environment, stdout=out, stderr=out, start_new_session=True
            )

    @property
    def pid(self) -> int:
        return self.process.pid

    def kill(self) -> None:
        """kill -9 for it and all its children."""
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def __enter__(self) -> "Process":
        return self

    def __exit__(self, *error: object) -> None:
        self.kill()


class Web(Process):
    """The web server as `serve` starts it, on a port that stays the same over restarts."""

    def __init__(self, place: Ground, port: int | None = None, *, before: tuple[str, ...] = ()) -> None:
        self.port = port or free_port()
        listen = ["--host", "127.0.0.1", "--port", str(self.port), "--interface", "wsgi", "--no-ws"]
        serve = ["--log-level", "warning", "--blocking-threads", "4", "core.wsgi:application"]
        super().__init__(place, *before, sys.executable, "-m", "granian", *listen, *serve)
        try:
            until(self._answers, 60, "the web server")
        except AssertionError:
            self.kill()
            raise

    def _answers(self) -> bool:
        assert self.process.poll() is None, self.log.read_text()
        try:
            return ask(self.port, "GET", "/api/health/")[0] in (200, 503)
        except OSError:
            return False


def ask(port: int, method: str, path: str, token: str = "", body: Any = None, timeout: float = 30) -> tuple[int, bytes]:
    """(status, body) of one request, which changes whatever state is there.

    Raises:
        OSError: there was no whole answer.
    """
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=timeout)
    headers = {"If-Match": "*"} | ({"Authorization": f"Bearer {token}"} if token else {})
    data = None
    if body is not None:
        data, headers["Content-Type"] = json.dumps(body).encode(), "application/json"
    try:
        link.request(method, path, body=data, headers=headers)
        answer = link.getresponse()
        return answer.status, answer.read()
    except http.client.HTTPException as error:
        raise ConnectionError(type(error).__name__) from error
    finally:
        link.close()


# What stands in it


def fill() -> dict[str, Any]:
    from django.core.management import call_command

    from core.models import Crew, CrewMember, Graph, Holding, Notice, Person, Role, Way
    from core.services.tokens import make_token
    from jobs.models import Assignment, Job, Sheet
    from jobs.services.single import add_job
    from jobs.services.walking import walk_holding
    from plots.models import Plot, Property

    call_command("migrate", verbosity=0)
    holding = Holding.objects.create(name="Fault holding", zone="America/Chicago")
    Graph.objects.create(holding=holding)
    people = {
        "manager": Person.objects.create(holding=holding, name="Ada", role=Role.MANAGER),
        "helper": Person.objects.create(holding=holding, name="Ben", role=Role.HELPER),
        "other": Person.objects.create(holding=holding, name="Cleo", role=Role.HELPER),
    }
    for person in people.values():
        Way.objects.create(holding=holding, person=person, kind="file", address="x@example.org")
    crew = Crew.objects.create(holding=holding, name="All")
    CrewMember.objects.create(holding=holding, crew=crew, person=people["other"])
    land = Property.objects.create(
        holding=holding, name="Long Reach", latitude=39.0, longitude=-95.0, access_notes="By the mill."
    )
    plot = Plot.objects.create(holding=holding, property=land, name="North field", acres_typed=4.0)
    jobs = []
    for number in range(JOBS):
        operation, hazards = ("mow", []) if number else ("till", ["machine"])
        job = Job(holding=holding, plot=plot, operation=operation, title=f"Work {number}", duration_min=60, acres=4.0)
        job.hazards = hazards
        jobs.append(add_job(job=job, by=people["manager"]))
        Assignment.objects.create(holding=holding, job=job, person=people["helper"])
        Sheet.objects.create(holding=holding, job=job, check_in_minutes=60, contact="Ada")  # one person, with a machine
    walk_holding(holding.pk, whole=True)
    Notice.objects.all().delete()  # each fault counts its own
    tokens = {name: make_token(person=person)[1] for name, person in people.items()}
    ids = {f"{name}_id": person.pk for name, person in people.items()}
    return {"holding": holding.pk, "jobs": [job.pk for job in jobs], "plot": plot.pk, **tokens, **ids}


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(fill()))
