"""Ways out of the house: what a message looks like, and what counts as not sent."""

import uuid
from pathlib import Path
from typing import Any

import pytest

from core.delivery import Message, Permanent, Temporary, sender_of
from core.delivery.text import rendered
from core.delivery.ways import ConsoleSender, FileSender, MailSender
from tests.core.smtp_sink import SmtpSink

MESSAGE = Message(
    id=uuid.UUID("11111111-2222-4333-8444-555555555555"),
    name="Ada",
    address="ada@example.org",
    title="Mow the clover, North field",
    body="Saturday 6:40 to 10:15.\nStart by Tue 28 Apr.\n",
)


@pytest.fixture
def mail_to(settings: Any) -> Any:
    """Point the mail way at a port of this machine."""

    def point(port: int) -> MailSender:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", port, 3
        settings.MAIL_FROM = settings.DEFAULT_FROM_EMAIL = "desk@farm.example.org"
        return MailSender()

    return point


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


def test_the_console_way_prints_whom_and_what(capsys: pytest.CaptureFixture[str]) -> None:
    ConsoleSender().send(MESSAGE)
    assert capsys.readouterr().out.startswith("--- to Ada: Mow the clover, North field\nSaturday 6:40 to 10:15.\n")


def test_mail_carries_the_same_message_id_on_every_try(mail_to: Any) -> None:
    with SmtpSink() as sink:
        sender = mail_to(sink.port)
        sender.send(MESSAGE)
        sender.send(MESSAGE)
    assert sink.ids() == ["<11111111-2222-4333-8444-555555555555@farm.example.org>"] * 2
    assert "\r\nTo: ada@example.org\r\n" in sink.accepted[0]
    assert "Saturday 6:40 to 10:15." in sink.accepted[0]


@pytest.mark.parametrize(
    ("to_recipient", "to_data", "expected"),
    [
        ("550 no such mailbox", "250 taken", Permanent),
        ("450 mailbox busy", "250 taken", Temporary),
        ("250 fine", "554 refused", Permanent),
        ("250 fine", "451 later", Temporary),
    ],
)
def test_the_servers_code_tells_later_from_never(
    mail_to: Any, to_recipient: str, to_data: str, expected: type[Exception]
) -> None:
    with SmtpSink(to_recipient=to_recipient, to_data=to_data) as sink, pytest.raises(expected) as caught:
        mail_to(sink.port).send(MESSAGE)
    assert sink.accepted == []
    assert "ada@example.org" not in str(caught.value)


def test_a_mail_server_that_is_not_there_is_a_reason_to_try_again(mail_to: Any) -> None:
    with SmtpSink() as sink:
        port = sink.port
    with pytest.raises(Temporary, match="could not be reached"):
        mail_to(port).send(MESSAGE)


def test_a_mail_way_without_address_never_goes(mail_to: Any) -> None:
    with pytest.raises(Permanent, match="no mail address"):
        mail_to(1).send(Message(id=MESSAGE.id, name="Ada", address="", title="t", body="b\n"))


def test_without_a_mail_server_mail_goes_the_file_way(settings: Any) -> None:
    settings.SMTP_URL = ""
    assert isinstance(sender_of("mail"), FileSender)
    settings.SMTP_URL = "smtp://127.0.0.1:25"
    assert isinstance(sender_of("mail"), MailSender)
    assert isinstance(sender_of("file"), FileSender)
    assert isinstance(sender_of("console"), ConsoleSender)
