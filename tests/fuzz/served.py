"""A throw-away server for fuzzing: two holdings with one thing of every kind, and a token for everybody who may ask.

python -m tests.fuzz.served    (in a place: lays the holdings and prints the tokens as JSON)
"""

import json
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import IO

from tests.faults.places import ROOT, Place, places

ROLES = ("manager", "helper", "viewer", "read_token", "report_token", "other_crew", "stranger", "anonymous")


@dataclass(frozen=True)
class Served:
    place: Place
    url: str
    tokens: dict[str, str]


@contextmanager
def served() -> Iterator[Served]:
    """The program behind its real web server, with a sender beside it; what it logs is in the place's file `log`."""
    with places(1, tables=True) as (place,):
        tokens = json.loads(place.run("-m", "tests.fuzz.served").splitlines()[-1])
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        with (place.data / "log").open("wb") as log:
            running = [_start(place, port, log), _sweep(place, log)]
            try:
                _wait(f"http://127.0.0.1:{port}/api/health/")
                yield Served(place, f"http://127.0.0.1:{port}", tokens)
            finally:
                for one in running:
                    one.terminate()
                    one.wait(30)


def _start(place: Place, port: int, log: IO[bytes]) -> "subprocess.Popen[bytes]":
    listen = ["--host", "127.0.0.1", "--port", str(port), "--interface", "wsgi", "--no-ws", "--blocking-threads", "4"]
    command = [sys.executable, "-m", "granian", *listen, "--log-level", "warning", "core.wsgi:application"]
    return subprocess.Popen(command, cwd=ROOT, env=place.environment, stdout=log, stderr=log)


def _sweep(place: Place, log: IO[bytes]) -> "subprocess.Popen[bytes]":
    """Somebody who sends, or health would rightly say that nobody does."""
    command = [sys.executable, "manage.py", "send", "--loop", "20"]
    return subprocess.Popen(command, cwd=ROOT, env=place.environment, stdout=log, stderr=log)


def _wait(url: str) -> None:
    until = time.monotonic() + 60
    while time.monotonic() < until:
        try:
            urllib.request.urlopen(url, timeout=5).close()
        except urllib.error.HTTPError:
            return
        except OSError:
            time.sleep(0.2)
        else:
            return
    raise AssertionError("the web server does not answer")


def lay() -> dict[str, str]:
    """Fill the database of this place and give a token for each of `ROLES` that has one."""
    from django.core.management import call_command

    from core.services.tokens import make_token
    from tests.core.world import build
    from tests.jobs.api.matrix import grow

    call_command("migrate", verbosity=0)
    world = build(grow)
    home = world.home
    people = {
        "manager": (home.manager, "full"),
        "helper": (home.helper, "full"),
        "viewer": (home.viewer, "full"),
        "read_token": (home.manager, "read"),
        "report_token": (home.helper, "report"),
        "other_crew": (home.other_crew, "full"),
        "stranger": (world.away.manager, "full"),
    }
    return {role: make_token(person=person, kind=kind)[1] for role, (person, kind) in people.items()}


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(lay()))
