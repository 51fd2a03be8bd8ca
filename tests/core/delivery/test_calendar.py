"""The calendar part, read back by the library's parser and line by line (RFC 5545)."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from icalendar import Calendar, Event, vCalAddress

from core.delivery.calendar import calendar_of
from tests.core.delivery.messages import EVENT

MADE = datetime(2026, 4, 23, 23, 0, tzinfo=UTC)


def written(made_at: datetime = MADE, **changes: Any) -> str:
    return calendar_of([{**EVENT, **changes}], made_at=made_at, sender="desk@farm.example.org")


def test_an_event_stands_in_the_calendar_as_it_was_given() -> None:
    (event,) = Calendar.from_ical(written()).walk("VEVENT")
    assert event["UID"] == "job-4@farm.example.org"
    assert event["DTSTART"].dt == datetime(2026, 4, 25, 11, 40, tzinfo=UTC)
    assert event["DTEND"].dt == datetime(2026, 4, 25, 15, 15, tzinfo=UTC)
    assert event["SUMMARY"] == "Mow the clover; North field, first cut"
    assert event["DESCRIPTION"] == "Bring the mower.\nTwo people."


def test_what_publishing_needs_is_there() -> None:
    text = written()
    for line in ("BEGIN:VCALENDAR", "VERSION:2.0", "METHOD:PUBLISH", "DTSTART:20260425T114000Z", "END:VCALENDAR"):
        assert f"{line}\r\n" in text
    assert "DTSTAMP:20260423T230000Z\r\n" in text
    assert "ORGANIZER:mailto:desk@farm.example.org\r\n" in text


def test_no_line_is_longer_than_75_octets_and_each_ends_by_crlf() -> None:
    text = written(description="Übermäßig lange Zeile über Klee und Gräser. " * 20)
    assert "\n" not in text.replace("\r\n", "")
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75
    (event,) = Calendar.from_ical(text).walk("VEVENT")
    assert event["DESCRIPTION"] == ("Übermäßig lange Zeile über Klee und Gräser. " * 20).strip()


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"location": "", "description": r"A backslash \ a comma, a semicolon; and \n no line"},
        {"summary": "Übermäßig " * 19, "description": "Klee, Gräser; 森林 " * 100},
        {"uid": "x" * 71, "summary": "y" * 67, "description": "z" * 63},
        {"uid": "x" * 72, "summary": "ü" * 34, "description": "z" * 64},
    ],
)
def test_the_text_is_the_one_that_a_general_library_writes(changes: dict[str, Any]) -> None:
    given = {**EVENT, **changes}
    book, event = Calendar(), Event()
    book.add("version", "2.0")
    book.add("prodid", "-//Readyground//Reminders//EN")
    book.add("method", "PUBLISH")
    event.add("sequence", int(MADE.timestamp()) // 60)
    event.add("dtstamp", MADE)
    event.add("dtstart", datetime.fromisoformat(given["start"]).astimezone(UTC))
    event.add("dtend", datetime.fromisoformat(given["end"]).astimezone(UTC))
    event.add("organizer", vCalAddress("mailto:desk@farm.example.org"))
    for name in ("uid", "summary", "location", "description"):
        if given[name]:
            event.add(name, given[name].strip())
    book.add_component(event)
    assert sorted(unfolded(written(**changes))) == sorted(unfolded(book.to_ical().decode()))


def unfolded(text: str) -> list[str]:
    """The lines of a calendar; a library may break them elsewhere and order them otherwise."""
    return text.replace("\r\n ", "").split("\r\n")


def test_the_same_news_is_the_same_text_and_later_news_has_a_higher_sequence() -> None:
    assert written() == written()
    first, later = (Calendar.from_ical(written(at)).walk("VEVENT")[0] for at in (MADE, MADE + timedelta(minutes=1)))
    assert first["UID"] == later["UID"]
    assert first["SEQUENCE"] < later["SEQUENCE"] < 2**31


def test_no_text_can_begin_a_line_of_its_own() -> None:
    text = written(summary="Mow\r\nATTENDEE:mailto:eve@example.org", description="a\r\nEND:VEVENT")
    assert "\r\nATTENDEE" not in text
    assert text.count("\r\nEND:VEVENT") == 1


@pytest.mark.parametrize(
    "wrong",
    [
        {"uid": ""},
        {"uid": 3},
        {"start": None},
        {"start": "2026-04-25T11:40:00"},
        {"start": "x"},
        {"start": "0001-01-01T00:00:00+10:00"},
        {"end": "2026-04-24Z"},
        {"end": "2026-04-25T11:39:00+00:00"},
        {"summary": ["x"]},
    ],
)
def test_an_event_that_cannot_be_read_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError):
        written(**wrong)
