"""Mail: what it carries, one connection for many, and what counts as later and what as never."""

import email
import uuid
from email.message import Message as Parsed
from typing import Any

import pytest

from core.delivery import Permanent, Temporary
from core.delivery.mail import MailSender
from core.delivery.signing import stopped_by
from tests.core.delivery.messages import EVENT, MESSAGE, message
from tests.core.smtp_sink import SmtpSink


@pytest.fixture
def mail_to(settings: Any) -> Any:
    """Point the mail way at a port of this machine."""

    def point(port: int) -> MailSender:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", port, 3
        settings.MAIL_FROM = settings.DEFAULT_FROM_EMAIL = "desk@farm.example.org"
        settings.BASE_URL = "https://farm.example.org"
        return MailSender()

    return point


def sent(sink: SmtpSink) -> list[Parsed]:
    return [email.message_from_string(text) for text in sink.accepted]


def test_mail_carries_the_same_ids_on_every_try(mail_to: Any) -> None:
    with SmtpSink() as sink:
        sender = mail_to(sink.port)
        sender.send(MESSAGE)
        sender.send(MESSAGE)
    assert sink.ids() == ["<11111111-2222-4333-8444-555555555555@farm.example.org>"] * 2
    first, second = sent(sink)
    assert first["To"] == "ada@example.org"
    assert first["X-Reminder-Id"] == second["X-Reminder-Id"] == "11111111-2222-4333-8444-555555555555"
    assert first["Auto-Submitted"] == "auto-generated"
    assert "Saturday 6:40 to 10:15." in first.get_payload()


def test_mail_says_how_to_stop_it_at_one_click(mail_to: Any) -> None:
    with SmtpSink() as sink:
        mail_to(sink.port).send(MESSAGE)
    (mail,) = sent(sink)
    address = "".join(mail["List-Unsubscribe"].split())
    assert address.startswith("<https://farm.example.org/stop/")
    assert address.endswith("/>")
    assert mail["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    found = stopped_by(address.removesuffix("/>").rpartition("/")[2])
    assert found is not None
    assert found[0] == 17


def test_without_https_no_one_click_is_promised(mail_to: Any, settings: Any) -> None:
    with SmtpSink() as sink:
        sender = mail_to(sink.port)
        settings.BASE_URL = "http://127.0.0.1:8000"
        sender.send(MESSAGE)
    (mail,) = sent(sink)
    assert "List-Unsubscribe" in mail
    assert "List-Unsubscribe-Post" not in mail


def test_days_go_as_a_calendar_part_beside_the_text(mail_to: Any) -> None:
    with SmtpSink() as sink:
        sender = mail_to(sink.port)
        sender.send(message(events=[EVENT]))
        sender.send(MESSAGE)
    with_days, without = sent(sink)
    assert [part.get_content_type() for part in with_days.walk()] == [
        "multipart/alternative",
        "text/plain",
        "text/calendar",
    ]
    part = list(with_days.walk())[2]
    assert part.get_param("method") == "PUBLISH"
    assert b"UID:job-4@farm.example.org" in part.get_payload(decode=True)  # type: ignore[operator]
    assert without.get_content_type() == "text/plain"


def test_a_day_that_cannot_be_read_holds_up_no_text(mail_to: Any) -> None:
    with SmtpSink() as sink:
        mail_to(sink.port).send(message(events=[{**EVENT, "start": "Saturday"}]))
    assert sent(sink)[0].get_content_type() == "text/plain"


def test_an_address_with_other_letters_than_ascii_is_encoded(mail_to: Any) -> None:
    with SmtpSink() as sink:
        mail_to(sink.port).send(message(address="ada@mühle.example.org"))
    assert sent(sink)[0]["To"] == "ada@xn--mhle-0ra.example.org"


def test_our_own_address_may_have_a_name(mail_to: Any, settings: Any) -> None:
    with SmtpSink() as sink:
        sender = mail_to(sink.port)
        settings.MAIL_FROM = "Mühle Desk <desk@farm.example.org>"
        sender.send(MESSAGE)
    (mail,) = sent(sink)
    assert mail["From"] == "=?utf-8?q?M=C3=BChle_Desk?= <desk@farm.example.org>"
    assert sink.ids() == ["<11111111-2222-4333-8444-555555555555@farm.example.org>"]


@pytest.mark.parametrize("address", ["ada@example.org\r\nBcc: eve@example.org", "a b c"])
def test_what_is_no_address_never_goes(mail_to: Any, address: str) -> None:
    with SmtpSink() as sink, pytest.raises(Permanent, match="cannot be written"):
        mail_to(sink.port).send(message(address=address))
    assert sink.accepted == []


def test_many_messages_go_over_one_connection(mail_to: Any) -> None:
    with SmtpSink() as sink:
        sender = mail_to(sink.port)
        for _ in range(20):
            sender.send(message(id=uuid.uuid4()))
        sender.close()
    assert (len(set(sink.ids())), sink.links) == (20, 1)


def test_a_link_that_the_server_ended_between_messages_is_made_anew_at_once(mail_to: Any) -> None:
    with SmtpSink(most_a_link=3) as sink:
        sender = mail_to(sink.port)
        for _ in range(7):
            sender.send(message(id=uuid.uuid4()))
    assert (len(sink.ids()), len(set(sink.ids())), sink.links) == (7, 7, 3)


def test_one_refused_recipient_does_not_lose_the_others(mail_to: Any) -> None:
    with SmtpSink(refused=("gone@example.org",)) as sink:
        sender = mail_to(sink.port)
        sender.send(message(id=uuid.uuid4()))
        with pytest.raises(Permanent, match="refused the address"):
            sender.send(message(address="gone@example.org"))
        sender.send(message(id=uuid.uuid4()))
    assert (len(sink.accepted), sink.links) == (2, 1)


def test_a_lost_confirmation_is_a_reason_to_try_again_and_the_next_goes_over_a_new_link(mail_to: Any) -> None:
    with SmtpSink(drop_every=2) as sink:
        sender = mail_to(sink.port)
        sender.send(message(id=uuid.uuid4()))
        with pytest.raises(Temporary, match="broke"):
            sender.send(MESSAGE)
        sender.send(message(id=uuid.uuid4()))
    assert (len(sink.accepted), sink.dropped, sink.links) == (3, 1, 2)


@pytest.mark.parametrize(
    ("to_recipient", "to_data", "expected"),
    [
        ("550 no such mailbox", "250 taken", Permanent),
        ("450 mailbox busy", "250 taken", Temporary),
        ("421 closing", "250 taken", Temporary),
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
    sender = mail_to(port)
    for _ in range(2):
        with pytest.raises(Temporary, match="could not be reached"):
            sender.send(MESSAGE)


def test_a_mail_way_without_address_never_goes(mail_to: Any) -> None:
    with pytest.raises(Permanent, match="no mail address"):
        mail_to(1).send(message(address=""))
