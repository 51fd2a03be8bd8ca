"""The ways of this machine: what a payload becomes, the file and the console way, which sender a way has."""

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from core.delivery import Temporary, sender_of
from core.delivery.mail import MailSender
from core.delivery.text import rendered
from core.delivery.ways import ConsoleSender, FileSender
from core.delivery.webhook import WebhookSender
from tests.core.delivery.messages import MESSAGE


def test_a_payload_becomes_a_title_and_lines() -> None:
    payload = {"title": "Mow the clover", "lines": ["Saturday 6:40.", "", "Bring the mower."]}
    assert rendered(payload) == ("Mow the clover", "Saturday 6:40.\n\nBring the mower.\n")


def test_no_text_can_pass_for_a_header_or_move_a_cursor() -> None:
    title, body = rendered({"title": "Mow\r\nBcc: eve@example.org", "lines": ["one\x1b[2Jtwo", "three\nfour\r"]})
    assert title == "Mow  Bcc: eve@example.org"
    assert body == "one [2Jtwo\nthree\nfour\n"


@pytest.mark.parametrize(
    "payload",
    [{}, {"title": " ", "lines": []}, {"title": "x"}, {"title": "x", "lines": "y"}, {"title": "x", "lines": [1]}],
)
def test_a_payload_without_words_is_refused(payload: dict[str, object]) -> None:
    with pytest.raises(ValueError):
        rendered(payload)


def test_the_file_way_writes_one_file_a_message_however_often_it_is_sent(data_folder: Path) -> None:
    FileSender().send(MESSAGE)
    first = [(path.name, path.read_text()) for path in (data_folder / "outbox").iterdir()]
    FileSender().send(MESSAGE)
    assert [(path.name, path.read_text()) for path in (data_folder / "outbox").iterdir()] == first
    ((name, text),) = first
    assert name == "11111111-2222-4333-8444-555555555555.txt"
    assert text.startswith("To: Ada\nSubject: Mow the clover, North field\nMessage-ID: <11111111-2222-4333-8444-")
    assert text.endswith("\n\nSaturday 6:40 to 10:15.\nStart by Tue 28 Apr.\n")


def test_an_outbox_that_takes_no_file_is_a_reason_to_try_again(data_folder: Path) -> None:
    (data_folder / "outbox").write_text("a file where the folder belongs")
    with pytest.raises(Temporary, match="outbox folder"):
        FileSender().send(MESSAGE)


def test_a_full_disk_leaves_no_part_of_a_file_behind(data_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Temporary, match="No space left"):
        FileSender().send(MESSAGE)
    assert list((data_folder / "outbox").iterdir()) == []


def test_the_console_way_prints_whom_and_what(capsys: pytest.CaptureFixture[str]) -> None:
    ConsoleSender().send(MESSAGE)
    assert capsys.readouterr().out.startswith("--- to Ada: Mow the clover, North field\nSaturday 6:40 to 10:15.\n")


def test_each_kind_of_way_has_its_sender_and_without_a_mail_server_mail_goes_the_file_way(settings: Any) -> None:
    settings.SMTP_URL = ""
    assert isinstance(sender_of("mail"), FileSender)
    settings.SMTP_URL = "smtp://127.0.0.1:25"
    assert isinstance(sender_of("mail"), MailSender)
    assert isinstance(sender_of("file"), FileSender)
    assert isinstance(sender_of("console"), ConsoleSender)
    assert isinstance(sender_of("webhook"), WebhookSender)
