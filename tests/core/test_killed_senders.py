"""Senders are killed while the queue is full: no reminder is lost, and one that goes twice has one id.

The wrong order (mark, then send) runs through the same mill and must lose, or the mill would prove nothing.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.core.smtp_sink import SmtpSink

ROOT = Path(__file__).resolve().parents[2]


def mill(order: str, data: Path, *, count: int, rounds: int) -> tuple[dict[str, int], list[str]]:
    """(what the senders say, the id of every message the mail server accepted)."""
    environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    with SmtpSink(delay_s=0.06) as sink:
        environment |= {
            "DJANGO_SETTINGS_MODULE": "core.settings",
            "READYGROUND_DATA": str(data),
            "READYGROUND_SMTP_URL": f"smtp://127.0.0.1:{sink.port}",
        }
        command = [sys.executable, "-m", "tests.core.killed_senders", order, str(count), str(rounds)]
        done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=240)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout.splitlines()[-1]), sink.ids()


def test_killed_senders_lose_nothing_and_double_only_under_one_id(tmp_path: Path) -> None:
    said, accepted = mill("send-first", tmp_path, count=160, rounds=15)
    assert said["kills"] == 30
    assert said["left"] > 0, "the queue ran empty before the last kill, so the last kills hit nobody"
    assert said["sent"] == 160
    assert len(set(accepted)) == 160
    assert len(accepted) - 160 <= said["kills"]


def test_the_same_mill_catches_the_order_that_loses(tmp_path: Path) -> None:
    said, accepted = mill("mark-first", tmp_path, count=160, rounds=15)
    assert said["left"] > 0
    assert said["sent"] == 160
    assert len(set(accepted)) < 160
