"""Days of a message for a calendar, by RFC 5545 and, for `METHOD:PUBLISH`, RFC 5546, 3.2.1. Pure."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from core.delivery.text import plain

LONGEST = {"uid": 200, "summary": 200, "location": 200, "description": 2000}


def calendar_of(events: Sequence[Mapping[str, Any]], *, made_at: datetime, sender: str) -> str:
    """The text of a calendar with these events, lines folded at 75 octets and ended by CRLF.

    An event is {"uid", "start", "end", "summary", "location", "description"}, its instants ISO 8601 with their offset.
    The same news makes the same text on every try; later news about a `uid` has a higher SEQUENCE (minutes since 1970
    of `made_at`), so that a calendar that gets both keeps the later.

    Raises:
        ValueError: a uid is missing, an instant has no offset or cannot be read, or an event ends before it starts.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Readyground//Reminders//EN", "METHOD:PUBLISH"]
    for given in events:
        words = {name: _words(given, name) for name in LONGEST}
        if not words["uid"]:
            raise ValueError("an event has no uid")
        start, end = _instant(given.get("start")), _instant(given.get("end"))
        if end < start:
            raise ValueError("an event ends before it starts")
        lines += [
            "BEGIN:VEVENT",
            f"UID:{_text(words['uid'])}",
            f"SEQUENCE:{int(made_at.timestamp()) // 60}",
            f"DTSTAMP:{_utc(made_at)}",
            f"DTSTART:{_utc(start)}",
            f"DTEND:{_utc(end)}",
            f"ORGANIZER:mailto:{sender}",
        ]
        lines += [
            f"{name.upper()}:{_text(words[name])}" for name in ("summary", "location", "description") if words[name]
        ]
        lines.append("END:VEVENT")
    lines.append("END:VCALENDAR")
    return "".join(_folded(line) for line in lines)


def _text(value: str) -> str:
    """A value of the type TEXT (RFC 5545, 3.3.11)."""
    for letter, escaped in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        value = value.replace(letter, escaped)
    return value


def _utc(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")


def _folded(line: str) -> str:
    """The line and its end, broken so that none is longer than 75 octets and no letter is broken (RFC 5545, 3.1)."""
    octets, parts, begin, room = line.encode(), [], 0, 75
    while len(octets) - begin > room:
        end = begin + room
        while octets[end] & 0xC0 == 0x80:  # within a letter of UTF-8
            end -= 1
        parts.append(octets[begin:end])
        begin, room = end, 74  # the space that marks what goes on is one of the 75
    return b"\r\n ".join([*parts, octets[begin:]]).decode() + "\r\n"


def _words(given: Mapping[str, Any], name: str) -> str:
    value = given.get(name, "")
    if not isinstance(value, str):
        raise ValueError(f"{name} of an event is no text")
    return "\n".join(plain(line) for line in value.split("\n"))[: LONGEST[name]].strip()


def _instant(value: object) -> datetime:
    if not isinstance(value, str):
        raise ValueError("an event has no instant")
    instant = datetime.fromisoformat(value)
    if instant.tzinfo is None:
        raise ValueError("an instant has no offset")
    try:
        return instant.astimezone(UTC)
    except OverflowError as error:
        raise ValueError("an instant is out of the calendar") from error
