"""`manage.py serve`: web server, worker and scheduler as one command."""

import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from argparse import ArgumentParser
from dataclasses import dataclass
from datetime import datetime
from types import FrameType
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, close_old_connections, connection
from django.db.migrations.executor import MigrationExecutor

from core.selectors.health import last_sweep_at

PARTS = ("web", "worker", "scheduler")
STOP_S = 15.0
READY_S = 60.0
STALL_S = 300.0
"""Without a sweep that ended well for so long, the background stands still though its processes live."""
LOOK_S = 30.0


@dataclass(frozen=True, slots=True)
class Child:
    name: str
    process: subprocess.Popen[bytes]


class Command(BaseCommand):
    help = "Serve pages and API, and run the worker and the scheduler, until stopped. If one ends, all end."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default 127.0.0.1)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on; 0 takes a free one")
        parser.add_argument("--no-web", action="store_true", help="worker and scheduler only")
        parser.add_argument(
            "--only", choices=PARTS, action="append", help="this part alone; say it twice for two (needs Redis)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Run until TERM or INT (exit code 0) or until a child ends (its exit code, 128 + n for signal n)."""
        self._prepare()
        self._stopping = False
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, self._stop)
        host, port = options["host"], options["port"]
        parts = options["only"] or [part for part in PARTS if part != "web" or not options["no_web"]]
        if options["only"] and not settings.REDIS_URL:
            raise CommandError("Parts need a broker between them. Set REDIS_URL, or serve everything as one command.")
        web = "web" in parts
        if web:
            port = _free_port(host, port)
        children: list[Child] = []
        try:
            for name, command in commands(web=(host, port) if web else None, redis=bool(settings.REDIS_URL)):
                if name.split()[0] in parts:
                    children.append(_start(name, command))
            code = self._watch(children, (host, port) if web else None)
        finally:
            self._end(children)
        if code:
            sys.exit(code)

    def _prepare(self) -> None:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            if connection.vendor != "sqlite":
                raise CommandError("The database is behind the program. Run `manage.py migrate` once, then serve.")
            call_command("migrate", verbosity=0)
        connection.close()

    def _stop(self, number: int, frame: FrameType | None) -> None:
        self._stopping = True

    def _watch(self, children: list[Child], web: tuple[str, int] | None) -> int:
        """Wait for the stop (returns 0) or for what must stop everything (returns the exit code)."""
        ready = web is None
        if ready:
            self._say(f"{' and '.join(child.name for child in children).capitalize()} started, without web server.")
        sweeps = web is None or any(child.name == "worker" for child in children)
        begun = time.monotonic()
        looked, moved, last = begun, begun, last_sweep_at()
        while not self._stopping:
            for child in children:
                code = child.process.poll()
                if code is not None:
                    self._say(f"The {child.name} ended by itself ({_said(code)}). Everything stops.")
                    return 128 - code if code < 0 else code or 1
            at = time.monotonic()
            if not ready and web is not None:
                ready = _answers(*web)
                if ready:
                    self._say(f"Ready: http://{_shown(web[0])}:{web[1]}/")
                elif at - begun > READY_S:
                    self._say(f"The web server gave no answer in {READY_S:.0f} s. Everything stops.")
                    return 1
            if sweeps and at - looked >= LOOK_S:
                looked, seen = at, self._last_sweep(last)
                if seen != last:
                    moved, last = at, seen
                elif at - moved > STALL_S:
                    self._say(f"No sweep of the reminders ended well for {STALL_S:.0f} s. Everything stops.")
                    return 1
            time.sleep(0.1)
        return 0

    @staticmethod
    def _last_sweep(last: datetime | None) -> datetime | None:
        """When a sweep last ended well; a database that does not answer has seen none since `last`."""
        close_old_connections()
        try:
            return last_sweep_at()
        except DatabaseError:
            return last

    def _end(self, children: list[Child]) -> None:
        """Ask every child to end, web server first to last; whoever has not after 15 s is killed with its children."""
        for child in children:
            _signal(child, signal.SIGTERM)
        until = time.monotonic() + STOP_S
        for child in children:
            try:
                child.process.wait(max(0.0, until - time.monotonic()))
            except subprocess.TimeoutExpired:
                self._say(f"The {child.name} did not end in {STOP_S:.0f} s and is killed; rows it held go again.")
            _signal_group(child, signal.SIGKILL)
            child.process.wait()
        if children:
            self._say("Stopped.")

    def _say(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()


def commands(*, web: tuple[str, int] | None, redis: bool) -> list[tuple[str, list[str]]]:
    """(name, command line) of each process: with Redis a worker of processes and a scheduler of its own, else one
    worker of threads that carries the scheduler. There is one scheduler either way."""
    python, queue = sys.executable, [sys.executable, "-m", "celery", "-q", "-A", "core.celery"]
    quiet = ["--without-gossip", "--without-mingle", "--loglevel", "WARNING"]
    made: list[tuple[str, list[str]]] = []
    if web is not None:
        listen = ["--host", web[0], "--port", str(web[1])]
        serve = ["--interface", "wsgi", "--no-ws", "--log-level", "warning", "--blocking-threads", "4"]
        made.append(("web server", [python, "-m", "granian", *listen, *serve, "core.wsgi:application"]))
    if redis:
        made.append(("worker", [*queue, "worker", "-P", "prefork", "-c", "2", *quiet]))
        made.append(("scheduler", [*queue, "beat", "--pidfile=", "--loglevel", "WARNING"]))
    else:
        made.append(("worker", [*queue, "worker", "-P", "threads", "-c", "2", "-B", *quiet]))
    return made


def _start(name: str, command: list[str]) -> Child:
    """Start a child in a session of its own, so that a key press reaches the supervisor alone."""
    process = subprocess.Popen(command, cwd=settings.ROOT, env=dict(os.environ), start_new_session=True)
    return Child(name, process)


def _signal(child: Child, number: int) -> None:
    if child.process.poll() is None:
        child.process.send_signal(number)


def _signal_group(child: Child, number: int) -> None:
    """To whatever is left of the child's session; its group id is its process id."""
    try:
        os.killpg(child.process.pid, number)
    except (ProcessLookupError, PermissionError):
        return


def _free_port(host: str, port: int) -> int:
    """The port, or a free one for 0.

    Raises:
        CommandError: somebody listens there, or the address is none of this machine's.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except (OSError, OverflowError) as error:
            raise CommandError(f"Cannot listen on {_shown(host)}:{port} ({error}). Give another --port.") from error
        return int(probe.getsockname()[1])


def _answers(host: str, port: int) -> bool:
    """Whether the web server answers a request with anything at all."""
    reach = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
    link = http.client.HTTPConnection(reach, port, timeout=5)
    try:
        link.request("GET", "/sign-in/")
        link.getresponse().read()
    except (OSError, http.client.HTTPException):
        return False
    finally:
        link.close()
    return True


def _shown(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def _said(code: int) -> str:
    return f"signal {-code}" if code < 0 else f"exit code {code}"
