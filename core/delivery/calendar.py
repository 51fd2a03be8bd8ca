"""Days of a message for a calendar, by RFC 5545 and, for `METHOD:PUBLISH`, RFC 5546, 3.2.1. Pure."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from icalendar import Calendar, Event, vCalAddress

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
    book = Calendar()
    book.add("version", "2.0")
    book.add("prodid", "-//Readyground//Reminders//EN")
    book.add("method", "PUBLISH")
    for given in events:
        event = Event()
        words = {name: _words(given, name) for name in LONGEST}
        if not words["uid"]:
            raise ValueError("an event has no uid")
        start, end = _instant(given.get("start")), _instant(given.get("end"))
        if end < start:
            raise ValueError("an event ends before it starts")
        event.add("uid", words["uid"])
        event.add("sequence", int(made_at.timestamp()) // 60)
        event.add("dtstamp", made_at.astimezone(UTC).replace(microsecond=0))
        event.add("dtstart", start)
        event.add("dtend", end)
        event.add("organizer", vCalAddress(f"mailto:{sender}"))
        for name in ("summary", "location", "description"):
            if words[name]:
                event.add(name, words[name])
        book.add_component(event)
    return str(book.to_ical().decode())


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
    return instant.astimezone(UTC).replace(microsecond=0)
