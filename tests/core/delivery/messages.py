"""A message for the tests of the ways out."""

import uuid
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from core.delivery import Message

MESSAGE = Message(
    id=uuid.UUID("11111111-2222-4333-8444-555555555555"),
    name="Ada",
    address="ada@example.org",
    title="Mow the clover, North field",
    body="Saturday 6:40 to 10:15.\nStart by Tue 28 Apr.\n",
    way=17,
    jobs=(4, 9),
    made_at=datetime(2026, 4, 23, 23, 0, tzinfo=UTC),
)

EVENT = {
    "uid": "job-4@farm.example.org",
    "start": "2026-04-25T11:40:00+00:00",
    "end": "2026-04-25T15:15:00+00:00",
    "summary": "Mow the clover; North field, first cut",
    "location": "By the mill",
    "description": "Bring the mower.\nTwo people.",
}


def message(**changes: Any) -> Message:
    """`MESSAGE` with some of it changed."""
    return replace(MESSAGE, **changes)
