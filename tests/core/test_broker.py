"""The file broker: a reader never meets half a message, and a queue is bound whole."""

import os
import subprocess
import sys
import textwrap
import threading
from pathlib import Path
from typing import Any

import pytest
from kombu import Connection

from core import broker

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def options(tmp_path: Path) -> dict[str, Any]:
    broker.register()
    for name in ("messages", "processed", "control"):
        (tmp_path / name).mkdir()
    return {
        "data_folder_in": str(tmp_path / "messages"),
        "data_folder_out": str(tmp_path / "messages"),
        "processed_folder": str(tmp_path / "processed"),
        "store_processed": False,
        "control_folder": str(tmp_path / "control"),
    }


def test_four_thousand_messages_reach_a_reader_that_reads_meanwhile(options: dict[str, Any], tmp_path: Path) -> None:
    program = f"""
        from kombu import Connection
        from core import broker
        broker.register()
        with Connection("safefs://localhost", transport_options={options!r}) as link:
            queue = link.SimpleQueue("bell")
            for number in range(4000):
                queue.put({{"number": number, "filling": "x" * 2000}})
    """
    writer = subprocess.Popen([sys.executable, "-c", textwrap.dedent(program)], cwd=ROOT)
    read: list[int] = []
    with Connection("safefs://localhost", transport_options=options) as link:
        queue = link.SimpleQueue("bell")
        while len(read) < 4000:
            message = queue.get(timeout=20)
            read.append(message.payload["number"])
            message.ack()
    assert writer.wait(20) == 0
    assert sorted(read) == list(range(4000))
    assert list((tmp_path / "messages").iterdir()) == []


def test_a_message_is_not_there_until_it_is_whole(
    options: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, seen, real = tmp_path / "messages", [], os.fsync

    def look(handle: int) -> None:
        seen.append([path.name for path in folder.iterdir() if not path.name.startswith(".")])
        real(handle)

    monkeypatch.setattr(os, "fsync", look)
    with Connection("safefs://localhost", transport_options=options) as link:
        link.channel()._put("bell", {"body": "x"})
    (name,) = [path.name for path in folder.iterdir()]
    assert seen == [[]]
    assert name.endswith(".bell.msg")


def test_queues_bound_at_once_are_all_bound(options: dict[str, Any]) -> None:
    start, failures = threading.Barrier(12), []

    def bind(number: int) -> None:
        with Connection("safefs://localhost", transport_options=options) as link:
            channel = link.channel()
            start.wait()
            try:
                channel._queue_bind("bells", "", "", f"bell{number}")
                channel.get_table("bells")
            except Exception as error:
                failures.append(error)

    threads = [threading.Thread(target=bind, args=(number,)) for number in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with Connection("safefs://localhost", transport_options=options) as link:
        bound = {row.queue for row in link.channel().get_table("bells")}
    assert failures == []
    assert bound == {f"bell{number}" for number in range(12)}
