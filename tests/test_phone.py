"""The phone's script as a real process against a live server, over a link that goes wrong.

Set PHONE_PYTHON to run the script under another Python, such as 3.9.
"""

import ast
import json
import os
import runpy
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest

from jobs.sentences import REASONS
from tests.faults.ground import Ground, Web, ask, free_port, ground, until
from tests.faults.proxy import Proxy

pytestmark = pytest.mark.once

SCRIPT = Path(__file__).resolve().parents[1] / "fixtures" / "phone.py"
PYTHON = os.environ.get("PHONE_PYTHON", sys.executable)


class Phone:
    """A phone: its folder, and the script run on it. `port` is where it believes the server to be."""

    def __init__(self, folder: Path, port: int, token: str) -> None:
        self.folder, self.token = folder, token
        self.environment = {
            "PATH": os.environ["PATH"],
            "COLUMNS": "40",
            "TZ": "America/Chicago",
            "READY_FOLDER": str(folder),
            "READY_TIMEOUT": "3",
            "READY_PATIENCE": "6",
            "PYTHONIOENCODING": "utf-8",
        }
        assert self.run("setup", f"http://127.0.0.1:{port}", token)[0] == 0

    def start(self, *words: str, **more: str) -> "subprocess.Popen[str]":
        return subprocess.Popen(
            [PYTHON, str(SCRIPT), *words],
            env=self.environment | more,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def run(self, *words: str, **more: str) -> tuple[int, str]:
        """(exit code, what it printed)."""
        process = self.start(*words, **more)
        said = process.communicate(timeout=60)[0]
        assert "Traceback" not in said, said
        assert self.token not in said
        return process.returncode, said

    def kept(self, name: str) -> list[dict[str, Any]]:
        rows: list[dict[str, Any]] = json.loads((self.folder / "state.json").read_text())[name]
        return rows


@pytest.fixture(scope="module")
def place() -> Iterator[Ground]:
    with ground("sqlite") as made:
        yield made


@pytest.fixture(scope="module")
def web(place: Ground) -> Iterator[Web]:
    with Web(place) as running:
        yield running


@pytest.fixture
def proxy(web: Web) -> Iterator[Proxy]:
    with Proxy(web.port, delay_s=1.0) as between:
        yield between


@pytest.fixture
def phone(tmp_path: Path, proxy: Proxy, place: Ground) -> Phone:
    made = Phone(tmp_path / "phone", proxy.port, place.told["helper"])
    assert made.run("next")[0] == 0
    return made


def stored(place: Ground, phone: Phone) -> list[tuple[str, str]]:
    """(id, kind) of this phone's reports in the order in which the server took them."""
    ids = {
        row["body"]["client_id"].replace("-", "") for name in ("queue", "sent", "refused") for row in phone.kept(name)
    }
    rows = place.rows("SELECT client_id, kind FROM jobs_report ORDER BY id")
    return [(str(pk).replace("-", ""), kind) for pk, kind in rows if str(pk).replace("-", "") in ids]


def sent_ids(phone: Phone) -> list[str]:
    return [row["body"]["client_id"].replace("-", "") for row in phone.kept("sent")]


def test_the_list_says_what_where_and_what_to_heed_within_forty_columns(phone: Phone) -> None:
    code, said = phone.run("next")
    assert code == 0
    assert max(map(len, said.splitlines())) <= 40
    text = " ".join(said.split())
    assert "1. Work 0, North field (Long Reach). Open." in text
    assert "4 ac left. About 1 h." in text
    assert "Bring: tillage tool." in text
    assert "Way in: By the mill." in text
    assert "CARE, machine: - Rollover frame up" in text
    assert "label, local code and licensed practice decide" in text


def test_cautions_come_before_a_start_and_a_report_carries_its_zone(phone: Phone, place: Ground) -> None:
    code, said = phone.run("start", "1")
    assert code == 0
    assert -1 < said.index("CARE, machine") < said.index("Started")
    (row,) = phone.kept("sent")
    assert row["body"]["happened_at"][-6:] in ("-06:00", "-05:00")
    assert stored(place, phone) == [(sent_ids(phone)[0], "start")]


def test_could_not_and_part_of_a_job_say_what_the_server_stored(phone: Phone, place: Ground) -> None:
    assert phone.run("could-not", "2", "wet", "lane", "under", "water")[0] == 0
    assert phone.run("done", "3", "1ha")[0] == 0
    assert phone.run("skip", "4")[0] == 0
    rows = place.rows("SELECT kind, reason, note, acres FROM jobs_report ORDER BY id DESC LIMIT 3")
    assert rows == [("skipped", "", "", None), ("done", "", "", 2.4711), ("could_not", "wet", "lane under water", None)]


@pytest.mark.parametrize("fault", ["drop", "half", "delay", "refuse"])
def test_a_bad_link_neither_loses_nor_doubles_nor_reorders(
    fault: str, phone: Phone, proxy: Proxy, place: Ground
) -> None:
    proxy.once(fault, fault, "pass", fault)
    for words in (("start", "5"), ("could-not", "5", "rain"), ("start", "6")):
        assert phone.run(*words)[0] == 0
    assert phone.kept("queue") == []
    assert proxy.seen[fault] >= 2
    kinds = [kind for _, kind in stored(place, phone)]
    assert kinds == ["start", "could_not", "start"]
    assert [pk for pk, _ in stored(place, phone)] == sent_ids(phone)


@pytest.mark.parametrize("fault", ["drop", "half"])
def test_the_server_acts_once_and_the_retry_gets_its_first_receipt(
    fault: str, phone: Phone, proxy: Proxy, place: Ground, web: Web
) -> None:
    proxy.fault = fault
    code, said = phone.run("start", "7", READY_PATIENCE="0")
    assert (code, "1 report waits here; nothing is lost" in " ".join(said.split())) == (2, True)
    (row,) = phone.kept("queue")
    assert len(stored(place, phone)) == 1, "the server had done it; only its answer was lost"
    again = ask(web.port, "POST", "/api/reports/", place.told["helper"], row["body"])
    proxy.fault = "pass"
    assert phone.run("send")[0] == 0
    assert (again[0], json.loads(again[1])) == (201, phone.kept("sent")[0]["receipt"])
    assert len(stored(place, phone)) == 1


def test_days_without_signal_keep_the_list_and_everything_reported(phone: Phone, proxy: Proxy, place: Ground) -> None:
    proxy.fault = "refuse"
    kept = phone.folder / "next.json"
    list_of_two_days_ago = json.loads(kept.read_text())
    at = time.strftime("%Y-%m-%dT%H:%M:%S+00:00", time.gmtime(time.time() - 2 * 86_400 - 600))
    kept.write_text(json.dumps(list_of_two_days_ago | {"at": at}))
    for number in range(6):
        assert phone.run("could-not", "8", "other", f"day {number}", READY_PATIENCE="0")[0] == 2
    code, said = phone.run("next")
    text = " ".join(said.split())
    assert (code, "This one is 2 days old" in text) == (2, True)
    assert "Could not: reported here, not sent yet." in text
    assert stored(place, phone) == []
    proxy.fault = "pass"
    assert phone.run("send")[0] == 0
    notes = place.rows("SELECT note FROM jobs_report WHERE note LIKE 'day %' ORDER BY id")
    assert notes == [(f"day {number}",) for number in range(6)]


def test_a_job_given_to_somebody_else_meanwhile_is_still_reported(
    phone: Phone, proxy: Proxy, place: Ground, web: Web
) -> None:
    kept = json.loads((phone.folder / "next.json").read_text())["answer"]["jobs"]
    number, job = len(kept), kept[-1]
    proxy.fault = "refuse"
    assert phone.run("done", str(number), READY_PATIENCE="0")[0] == 2
    manager = place.told["manager"]
    assert ask(web.port, "DELETE", f"/api/assignments/{job['assigned'][0]['id']}/", manager)[0] == 204
    given = {"job": job["job"], "person": place.told["other_id"]}
    assert ask(web.port, "POST", "/api/assignments/", manager, given)[0] == 201
    done = {"client_id": "7c1f8f36-6b0b-4a86-9f5e-000000000001", "job": job["job"], "kind": "done"}
    done["happened_at"] = "2026-05-09T10:40:00-05:00"
    assert ask(web.port, "POST", "/api/reports/", place.told["other"], done)[0] == 201
    proxy.fault = "pass"
    code, said = phone.run("send")
    assert (code, "Cleo reported this job done" in " ".join(said.split())) == (0, True)
    assert [kind for _, kind in stored(place, phone)] == ["done"]


def test_a_report_that_is_refused_for_good_is_shown_and_kept_and_the_next_goes(phone: Phone, place: Ground) -> None:
    code, said = phone.run("done", "9", "400")
    assert (code, "400 acres is more than this job has" in " ".join(said.split())) == (1, True)
    assert phone.run("start", "9")[0] == 0
    assert [row["body"]["acres"] for row in phone.kept("refused")] == [400]
    assert [kind for _, kind in stored(place, phone)] == ["start"]
    assert "400 acres is more" in " ".join(phone.run("queue")[1].split())


def test_a_token_that_is_not_taken_refuses_no_report(phone: Phone, place: Ground) -> None:
    code, said = phone.run("start", "9", READY_TOKEN="not-a-token-of-anybody")
    assert (code, "1 report waits here" in " ".join(said.split())) == (2, True)
    assert "not-a-token-of-anybody" not in said
    assert phone.run("send")[0] == 0
    assert [kind for _, kind in stored(place, phone)] == ["start"]


def test_eight_runs_at_once_send_each_report_once(phone: Phone, proxy: Proxy, place: Ground) -> None:
    proxy.once("drop", "half")
    runs = [phone.start("could-not", "9", "other", f"run {number}", READY_PATIENCE="30") for number in range(8)]
    for run in runs:
        assert "Traceback" not in run.communicate(timeout=60)[0]
    assert [run.returncode for run in runs] == [0] * 8
    assert len(stored(place, phone)) == len(phone.kept("sent")) == 8
    assert proxy.seen["pass"] == 1 + 6 + 2, "the list, then every report once and two again"


def test_a_run_that_is_killed_while_sending_loses_nothing(phone: Phone, proxy: Proxy, place: Ground) -> None:
    proxy.fault = "delay"
    proxy.delay_s = 3.0
    for number in range(3):
        before = proxy.seen["delay"]
        run = phone.start("could-not", "9", "other", f"killed {number}")
        until(lambda before=before: proxy.seen["delay"] > before, 20, "the request")
        time.sleep(0.3)
        run.send_signal(signal.SIGKILL)
        run.communicate()
    proxy.fault = "pass"
    assert len(phone.kept("queue")) == 3
    assert phone.run("send")[0] == 0
    notes = place.rows("SELECT note FROM jobs_report WHERE note LIKE 'killed %' ORDER BY id")
    assert notes == [("killed 0",), ("killed 1",), ("killed 2",)]


def test_a_server_that_restarts_meanwhile_is_found_again(tmp_path: Path) -> None:
    with ground("sqlite") as made:
        port = free_port()
        with Web(made, port):
            phone = Phone(tmp_path, port, made.told["helper"])
            assert phone.run("next")[0] == 0
        run = phone.start("done", "1", READY_PATIENCE="30")
        time.sleep(1)
        with Web(made, port):
            said = run.communicate(timeout=60)[0]
            assert run.returncode == 0, said
            assert [kind for _, kind in stored(made, phone)] == ["done"]


def test_a_full_disk_says_so_and_leaves_what_was_kept_whole(phone: Phone, proxy: Proxy) -> None:
    proxy.fault = "refuse"
    assert phone.run("start", "9", READY_PATIENCE="0")[0] == 2
    before = (phone.folder / "state.json").read_bytes()
    command = ["prlimit", "--fsize=100", PYTHON, str(SCRIPT), "start", "9"]
    full = subprocess.run(command, env=phone.environment, capture_output=True, text=True, timeout=60)
    assert (full.returncode, "could not keep it" in " ".join(full.stdout.split()), full.stderr) == (1, True, "")
    assert (phone.folder / "state.json").read_bytes() == before
    assert list(phone.folder.glob(".*.part")) == []


class Answers(HTTPServer):
    """A server that gives these answers in turn, (status, headers, body), and notes when it was asked."""

    def __init__(self, *answers: tuple[int, dict[str, str], bytes]) -> None:
        super().__init__(("127.0.0.1", 0), _Answer)
        self.answers, self.asked = list(answers), list[float]()
        threading.Thread(target=self.serve_forever, daemon=True).start()


class _Answer(BaseHTTPRequestHandler):
    server: Answers

    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        self.server.asked.append(time.monotonic())
        status, headers, body = self.server.answers.pop(0)
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *words: Any) -> None:
        return


@pytest.mark.parametrize(
    "answer",
    [
        (200, {"Content-Type": "text/html"}, b"<h1>Welcome to this guest network</h1>"),
        (302, {"Location": "http://127.0.0.1:9/"}, b""),
        (404, {"Content-Type": "text/html"}, b"<h1>Not found</h1>"),
        (201, {}, b'{"client_id": "somebody else\'s"}'),
        (201, {"Content-Length": "400"}, b'{"client_id": "half'),
        (502, {}, b"<h1>Bad gateway</h1>"),
        (429, {}, b""),
        (409, {}, b'{"status": 409, "detail": "Busy."}'),
        (503, {"Retry-After": "9" * 400}, b""),
        (503, {"Retry-After": f"Mon, 1 Jan {'9' * 20} 00:00:00 GMT"}, b""),
    ],
    ids=[
        *("a guest network", "a redirect", "a page", "another receipt", "half", "502", "429", "409"),
        *("a pause of no size", "a date of no year"),
    ],
)
def test_what_is_no_answer_of_the_server_leaves_the_report_in_the_queue(answer: Any, phone: Phone) -> None:
    with Answers(answer) as wrong:
        code, _ = phone.run("start", "9", READY_URL=f"http://127.0.0.1:{wrong.server_port}", READY_PATIENCE="0")
        wrong.shutdown()
    assert (code, len(wrong.asked), len(phone.kept("queue")), phone.kept("refused")) == (2, 1, 1, [])


def test_a_pause_that_the_server_asks_for_is_kept_also_by_the_next_run(phone: Phone) -> None:
    busy = (503, {"Retry-After": "2"}, b'{"status": 503, "detail": "The database is busy."}')
    with Answers(busy, busy) as server:
        url = {"READY_URL": f"http://127.0.0.1:{server.server_port}"}
        assert phone.run("start", "9", **url)[0] == 2
        code, said = phone.run("send", **url)
        assert (code, len(server.asked)) == (2, 1)
        assert "asks to wait" in said
        time.sleep(2)
        assert phone.run("send", **url)[0] == 2
        server.shutdown()
    assert len(server.asked) == 2


def test_tries_keep_growing_pauses(phone: Phone) -> None:
    answers = [(500, {}, b"")] * 5
    with Answers(*answers) as server:
        phone.run("start", "9", READY_URL=f"http://127.0.0.1:{server.server_port}", READY_PATIENCE="7")
        server.shutdown()
    pauses = [then - first for first, then in zip(server.asked, server.asked[1:], strict=False)]
    assert len(pauses) >= 3
    for number, pause in enumerate(pauses):
        assert 0.5 * 0.5 * 2**number <= pause <= 0.5 * 2**number + 0.5


def test_the_token_is_for_its_owner_alone_and_goes_nowhere_unencrypted(tmp_path: Path) -> None:
    phone = Phone(tmp_path / "phone", 9, "secret-of-the-helper")
    assert (phone.folder / "setup.json").stat().st_mode & 0o777 == 0o600
    assert phone.folder.stat().st_mode & 0o777 == 0o700
    code, said = phone.run("setup", "http://ground.example.org", "secret-of-the-helper")
    assert (code, "would show the token" in " ".join(said.split())) == (1, True)
    assert phone.run("send", READY_URL="http://ground.example.org")[0] == 0, "an empty queue asks nobody"
    code, said = phone.run("next", READY_URL="http://ground.example.org")
    assert (code, "would show the token" in " ".join(said.split())) == (1, True)
    assert phone.run("setup", "http://ground.example.org", "secret-of-the-helper", "--plain-http")[0] == 0
    for url in ("ground.example.org", "ftp://ground.example.org", "https://ground.example.org:x", "https://a@b.org"):
        assert phone.run("setup", url, "secret-of-the-helper")[0] == 1


def test_an_unknown_number_or_reason_reports_nothing(phone: Phone) -> None:
    assert phone.run("done", "99")[0] == 1
    assert phone.run("could-not", "1", "laziness")[0] == 2
    assert phone.run("done", "1", "-3")[0] == 2
    assert phone.run("done", "1", "nan")[0] == 2
    assert phone.run("queue")[1].split() == ["Waiting:", "0", "Refused:", "0", "Sent:", "0"]


def test_the_script_knows_the_reasons_of_the_program_and_needs_nothing_but_python_3_9() -> None:
    source = SCRIPT.read_text(encoding="utf-8")
    tree = ast.parse(source, feature_version=(3, 9))
    imported = {
        name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in ([node.module or ""] if isinstance(node, ast.ImportFrom) else [one.name for one in node.names])
    }
    assert imported <= set(sys.stdlib_module_names)
    assert runpy.run_path(str(SCRIPT), run_name="phone")["REASONS"] == REASONS


def test_setup_without_a_terminal_says_how_to_give_the_token(phone: Phone) -> None:
    command = [sys.executable, str(SCRIPT), "setup", "https://ground.example.org"]
    ran = subprocess.run(
        command,
        env=phone.environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        start_new_session=True,
        check=False,
    )
    assert (ran.returncode, " ".join(ran.stdout.split())) == (
        1,
        "Nobody is at a terminal to type the token. Say: phone.py setup URL TOKEN",
    )
    assert "Traceback" not in ran.stderr
