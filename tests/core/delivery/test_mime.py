"""The bytes of a mail, read back by the standard library's parser and beside its builder (RFC 5322, 2045 to 2047)."""

from email import message_from_bytes, policy
from email.message import EmailMessage, MIMEPart

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.delivery.mime import is_mailbox, mail_bytes

HEADERS = {"From": "desk@farm.example.org", "To": "ada@example.org", "Message-ID": "<1@farm.example.org>"}
PRINTABLE = st.text(st.characters(exclude_categories=("C", "Zl", "Zp", "Zs"), include_characters=" "))
"""As a title and the lines of a text are when they come here."""


def read(mail: bytes) -> EmailMessage:
    return message_from_bytes(mail, policy=policy.default)


def content(part: MIMEPart) -> str:
    return str(part.get_content()).replace("\r\n", "\n")


def built(subject: str, text: str) -> EmailMessage:
    """The same mail by the standard library's builder."""
    mail = EmailMessage()
    for name, value in HEADERS.items():
        mail[name] = value
    mail["Subject"] = subject
    mail.set_content(text)
    return read(mail.as_bytes(policy=policy.SMTP))


@pytest.mark.parametrize(
    ("subject", "text"),
    [
        ("Mow the clover, North field", "Saturday 6:40 to 10:15.\nStart by Tue 28 Apr.\n"),
        ("Mähen: Klee, Nordfeld", "Übermorgen früh, 6:40.\n\n   Zwei Leute.   \n"),
        ("Sat 25 Apr: 12 jobs at 5 places, first Spray the orchard against codling moth in block 7", "x" * 2000 + "\n"),
        ("Lines that mean something to somebody", ".\n..\nFrom here on\n--edge\n"),
        ("Eineüberauslangebezeichnung" * 6, "\n"),
        ("Two  spaces  and a long, long, long line that has to be folded somewhere, once", "one\r\ntwo\n"),
        ("A" * 120, "no end"),
    ],
)
def test_a_mail_says_what_the_standard_librarys_builder_would_say(subject: str, text: str) -> None:
    mail = mail_bytes(HEADERS, subject, text)
    ours, theirs = read(mail), built(subject, text)
    for name in (*HEADERS, "Subject", "MIME-Version"):
        assert ours[name] == theirs[name], name
    assert ours.get_content_type() == theirs.get_content_type()
    assert content(ours).rstrip() == content(theirs).rstrip()
    assert ours.defects == []


@settings(max_examples=300, deadline=None)
@given(PRINTABLE.map(str.strip), st.lists(PRINTABLE, max_size=8))
def test_whatever_a_mail_says_comes_out_as_it_went_in(subject: str, lines: list[str]) -> None:
    mail = mail_bytes(HEADERS, subject, "\n".join(lines) + "\n", "BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", "edge-1")
    assert mail.isascii()
    assert b"\n" not in mail.replace(b"\r\n", b"")
    assert b"\r" not in mail.replace(b"\r\n", b"")
    assert max(len(line) for line in mail.split(b"\r\n")) <= 998
    ours = read(mail)
    assert ours["Subject"] == subject
    text, calendar = ours.iter_parts()
    assert content(text).rstrip("\n") == "\n".join(lines).rstrip("\n")
    assert content(calendar) == "BEGIN:VCALENDAR\nEND:VCALENDAR\n"
    assert ours.defects == text.defects == calendar.defects == []


@pytest.mark.parametrize("subject", ["Not a word of the =?utf-8?q?other?= kind", "=?", "", " ".join(["ü"] * 90)])
def test_a_subject_is_never_taken_for_encoded_words(subject: str) -> None:
    assert read(mail_bytes(HEADERS, subject, "Open.\n"))["Subject"] == subject


def test_a_calendar_stands_after_the_text() -> None:
    ours = read(
        mail_bytes(HEADERS, "Mow", "Open.\n", "BEGIN:VCALENDAR\r\nSUMMARY:Mähen\r\nEND:VCALENDAR\r\n", "edge-1")
    )
    assert [part.get_content_type() for part in ours.walk()] == [
        "multipart/alternative",
        "text/plain",
        "text/calendar",
    ]
    (_, calendar) = ours.iter_parts()
    assert calendar["Content-Type"].params == {"method": "PUBLISH", "charset": "utf-8"}
    assert content(calendar) == "BEGIN:VCALENDAR\nSUMMARY:Mähen\nEND:VCALENDAR\n"


@pytest.mark.parametrize("value", ["one\r\nBcc: eve@example.org", "ü@example.org", "x" * 1000])
def test_a_header_that_is_no_line_is_refused(value: str) -> None:
    with pytest.raises(ValueError, match="To is no line"):
        mail_bytes({"To": value}, "Mow", "Open.\n")


@pytest.mark.parametrize("boundary", ["", "edge-1"])
def test_a_boundary_that_occurs_in_the_content_is_refused(boundary: str) -> None:
    with pytest.raises(ValueError, match="boundary"):
        mail_bytes(HEADERS, "Mow", "--edge-1\n", "BEGIN:VCALENDAR\r\n", boundary)


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("ada@example.org", True),
        ("ada.b+farm@mail.example.org", True),
        ("Ada <ada@example.org>", False),
        ("ada@exämple.org", False),
        ("ada..b@example.org", False),
        ("ada@example.org\n", False),
        ("a, b@example.org", False),
        ("ada", False),
        ("", False),
    ],
)
def test_only_a_bare_address_of_ascii_stands_as_it_is(address: str, expected: bool) -> None:
    assert is_mailbox(address) is expected
