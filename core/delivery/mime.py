"""The bytes of a mail, by RFC 5322 and RFC 2045 to 2047. Pure.

They are written out here because the general builders of mails need longer for one than a near mail server needs to
take it, and ours have a few headers of known form, one text and perhaps one calendar.
"""

import re
from binascii import b2a_qp
from collections.abc import Mapping
from email.header import Header

LONGEST_LINE = 998
"""Octets, without its end (RFC 5322, 2.1.1)."""
WORDS_LINE = 76
"""Octets of a header's line that are kept to where the text has spaces (RFC 2047, 2)."""

_DOT_ATOM = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+"
_MAILBOX = re.compile(rf"{_DOT_ATOM}(?:\.{_DOT_ATOM})*@[A-Za-z0-9-]+(?:\.[A-Za-z0-9-]+)*")


def is_mailbox(address: str) -> bool:
    """Whether an address can stand in a header as it is (RFC 5322, 3.4.1, a dot-atom on both sides)."""
    return len(address) <= 254 and _MAILBOX.fullmatch(address) is not None


def mail_bytes(headers: Mapping[str, str], subject: str, text: str, calendar: str = "", boundary: str = "") -> bytes:
    """The mail with lines that end by CRLF. `headers` stand as they are given, in their order, before the subject.

    A calendar goes beside the text, the better choice for who can read it (RFC 2046, 5.1.4); the boundary must not
    occur in either.

    Raises:
        ValueError: a header is no line of printable ASCII, or the boundary occurs in the content.
    """
    lines = []
    for name, value in headers.items():
        if not (value.isascii() and value.isprintable() and len(name) + 2 + len(value) <= LONGEST_LINE):
            raise ValueError(f"{name} is no line of printable ASCII")
        lines.append(f"{name}: {value}")
    lines.append(f"Subject: {_unstructured('Subject', subject)}")
    lines.append("MIME-Version: 1.0")
    part = _part("text/plain", text)
    if not calendar:
        return "\r\n".join(lines).encode("ascii") + b"\r\n" + part
    other = _part("text/calendar; method=PUBLISH", calendar)
    edge = b"--" + boundary.encode("ascii")
    if not boundary or edge in part or edge in other:
        raise ValueError("the boundary occurs in the content")
    lines.append(f'Content-Type: multipart/alternative; boundary="{boundary}"')
    head = "\r\n".join(lines).encode("ascii")
    return b"".join((head, b"\r\n\r\n", edge, b"\r\n", part, b"\r\n", edge, b"\r\n", other, b"\r\n", edge, b"--\r\n"))


def _unstructured(name: str, text: str) -> str:
    """A header's text: as it is where it can be, else folded at its spaces, else in encoded words."""
    if text.isascii() and text.isprintable() and "=?" not in text:
        if len(name) + 2 + len(text) <= WORDS_LINE:
            return text
        if "  " not in text and max(map(len, text.split(" "))) < WORDS_LINE // 2:
            return Header(text, "us-ascii", WORDS_LINE, name).encode(linesep="\r\n")
    return Header(text, "utf-8", WORDS_LINE, name).encode(linesep="\r\n")


def _part(kind: str, text: str) -> bytes:
    """Headers, an empty line and the text; what no 7bit line can carry goes quoted-printable (RFC 2045, 6.7)."""
    body = text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\n").replace("\n", "\r\n").encode() + b"\r\n"
    how = "7bit"
    if not body.isascii() or b"\0" in body or max(map(len, body.split(b"\r\n"))) > LONGEST_LINE:
        body, how = b2a_qp(body), "quoted-printable"
    head = f'Content-Type: {kind}; charset="utf-8"\r\nContent-Transfer-Encoding: {how}\r\n\r\n'
    return head.encode("ascii") + body
