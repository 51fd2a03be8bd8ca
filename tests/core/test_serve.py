"""`manage.py serve`: real processes start, work, and end together."""

import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from core.management.commands import serve
from core.management.commands.serve import commands
from tests.faults.places import lay_tables

ROOT = Path(__file__).resolve().parents[2]

FILL = """
import django; django.setup()
from django.utils import timezone
from core.celery import app
from core.models import Holding, Notice, Person
at = timezone.now()
holding = Holding.objects.create(name="Serve holding")
person = Person.objects.create(holding=holding, name="Ada")
row = Notice.objects.create(holding=holding, person=person, way_kind="file", kind="opened", basis="1",
    payload={"title": "Mow the clover", "lines": ["Saturday 6:40."]}, created_at=at, due_at=at)
app.send_task("nobody.knows.this")
app.send_task("core.tasks.sweep")
print(row.message_id)
"""
STATE = "import django; django.setup(); from core.models import Notice; print(Notice.objects.get().state)"


class Serving:
    """A running `serve` with its own data folder."""

    def __init__(self, data: Path, *arguments: str, **more: str) -> None:
        self.data = data
        clean = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "REDIS_URL")}
        self.environment = (
            clean
            | more
            | {
                "DJANGO_SETTINGS_MODULE": "core.settings",
                "READYGROUND_DATA": str(data),
                "PYTHONUNBUFFERED": "1",
            }
        )
        self.output = data / f"output-{time.monotonic_ns()}.txt"
        with self.output.open("wb") as out:
            command = [sys.executable, "manage.py", "serve", *arguments]
            self.process = subprocess.Popen(command, cwd=ROOT, env=self.environment, stdout=out, stderr=out)

    def said(self) -> str:
        return self.output.read_text()

    def wait_for(self, pattern: str, seconds: float = 60) -> str:
        """The first match in what it prints."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if found := re.search(pattern, self.said()):
                return found.group(0)
            assert self.process.poll() is None, self.said()
            time.sleep(0.1)
        raise AssertionError(f"{pattern} did not come in {seconds} s: {self.said()}")

    def run(self, program: str) -> str:
        """What a program prints that runs beside, on the same data."""
        command = [sys.executable, "-c", program]
        done = subprocess.run(command, cwd=ROOT, env=self.environment, capture_output=True, text=True, timeout=60)
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def processes(self, word: str = "") -> list[int]:
        """Every process of this data folder whose command line holds the word."""
        mark, found = f"READYGROUND_DATA={self.data}".encode(), []
        for folder in Path("/proc").iterdir():
            if folder.name.isdigit():
                try:
                    ours = mark in (folder / "environ").read_bytes().split(b"\0")
                    line = (folder / "cmdline").read_bytes()
                except OSError:
                    continue
                if ours and line and word.encode() in line:
                    found.append(int(folder.name))
        return sorted(found)


@pytest.fixture
def serving(tmp_path: Path) -> Iterator[Callable[..., Serving]]:
    begun: list[Serving] = []

    def start(*arguments: str, tables: bool = True, **more: str) -> Serving:
        """With `tables` they are there already; making them takes most of a start."""
        if tables and not begun:
            lay_tables(tmp_path)
        begun.append(Serving(tmp_path, *arguments, **more))
        return begun[-1]

    yield start
    for one in begun:
        for process in one.processes():
            os.kill(process, signal.SIGKILL)
        one.process.wait(20)


def test_it_serves_sends_and_ends_without_a_process_left(serving: Callable[..., Serving]) -> None:
    one = serving("--port", "0", tables=False)
    address = one.wait_for(r"http://127\.0\.0\.1:\d+/")
    with urllib.request.urlopen(f"{address}sign-in/", timeout=10) as answer:
        assert (answer.status, b"<h1>Sign in</h1>" in answer.read()) == (200, True)
    with urllib.request.urlopen(f"{address}static/core/page.css", timeout=10) as answer:
        assert answer.headers["Content-Type"].startswith("text/css")

    letter = one.data / "outbox" / f"{one.run(FILL)}.txt"
    until = time.monotonic() + 40
    while not letter.exists() and time.monotonic() < until:
        time.sleep(0.1)
    assert letter.read_text().startswith("To: Ada\nSubject: Mow the clover\n"), one.said()
    while one.run(STATE) != "sent" and time.monotonic() < until:
        time.sleep(0.1)
    assert one.run(STATE) == "sent"
    assert "nobody.knows.this" in one.said(), "the unknown task was met, and the worker went on"

    assert len(one.processes("granian")) >= 1
    assert len(one.processes("celery")) >= 1
    one.process.send_signal(signal.SIGTERM)
    assert one.process.wait(30) == 0, one.said()
    assert one.processes() == []
    assert one.said().rstrip().endswith("Stopped.")


@pytest.mark.redis
def test_the_grown_up_way_sends_through_redis_with_a_scheduler_of_its_own(serving: Callable[..., Serving]) -> None:
    one = serving("--no-web", REDIS_URL=os.environ["REDIS_URL"])
    one.wait_for("Worker and scheduler started")
    letter = one.data / "outbox" / f"{one.run(FILL)}.txt"
    until = time.monotonic() + 40
    while not letter.exists() and time.monotonic() < until:
        time.sleep(0.1)
    assert letter.read_text().startswith("To: Ada\n"), one.said()
    assert len(one.processes("beat")) == 1
    one.process.send_signal(signal.SIGTERM)
    assert one.process.wait(30) == 0, one.said()
    assert one.processes() == []


@pytest.mark.parametrize(("word", "name"), [("granian", "web server"), ("celery", "worker")])
def test_a_child_that_is_killed_ends_all_and_shows_in_the_exit_code(
    serving: Callable[..., Serving], word: str, name: str
) -> None:
    one = serving("--port", "0")
    one.wait_for("Ready: ")
    os.kill(one.processes(word)[0], signal.SIGKILL)
    assert one.process.wait(30) == 128 + signal.SIGKILL
    assert f"The {name} ended by itself (signal 9). Everything stops." in one.said()
    assert one.processes() == []


def test_a_port_that_is_taken_is_said_before_anything_starts(serving: Callable[..., Serving]) -> None:
    first = serving("--port", "0")
    port = first.wait_for(r"Ready: http://127\.0\.0\.1:\d+/").rpartition(":")[2].strip("/")
    second = Serving(first.data, "--port", port)
    assert second.process.wait(30) == 1
    assert f"Cannot listen on 127.0.0.1:{port}" in second.said()
    assert first.process.poll() is None


@pytest.mark.redis
@pytest.mark.parametrize(
    ("part", "runs", "word"),
    [
        ("web", "granian", "Ready: "),
        ("worker", "prefork", "Worker started"),
        ("scheduler", "beat", "Scheduler started"),
    ],
)
def test_a_part_runs_alone_for_machines_that_share_the_work(
    serving: Callable[..., Serving], part: str, runs: str, word: str
) -> None:
    one = serving("--only", part, "--port", "0", REDIS_URL=os.environ["REDIS_URL"])
    one.wait_for(word)
    assert one.processes(runs)
    assert [other for other in {"granian", "prefork", "beat"} - {runs} if one.processes(other)] == []
    one.process.send_signal(signal.SIGTERM)
    assert one.process.wait(30) == 0, one.said()
    assert one.processes() == []


def test_parts_without_a_broker_are_refused_before_anything_starts(serving: Callable[..., Serving]) -> None:
    one = serving("--only", "worker")
    assert one.process.wait(30) == 1
    assert "Set REDIS_URL" in one.said()
    assert one.processes() == []


def test_there_is_one_scheduler_either_way() -> None:
    embedded = dict(commands(web=("127.0.0.1", 8000), redis=False))
    grown = dict(commands(web=None, redis=True))
    assert list(embedded) == ["web server", "worker"]
    assert list(grown) == ["worker", "scheduler"]
    assert "-B" in embedded["worker"]
    assert "-B" not in grown["worker"]
    assert "beat" in grown["scheduler"]


@pytest.mark.django_db
def test_a_background_that_stands_still_ends_all_though_its_processes_live(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(serve, "LOOK_S", 0.05)
    monkeypatch.setattr(serve, "STALL_S", 0.5)
    supervisor = serve.Command()
    supervisor._stopping = False
    assert supervisor._watch([], None) == 1
    assert "No sweep of the reminders ended well" in capsys.readouterr().out
