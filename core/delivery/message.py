"""A message on its way to one person."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from uuid import UUID


@dataclass(frozen=True, slots=True)
class Message:
    """`id` is the notice's and the same on every try, so that whoever gets a message twice can tell.

    `way` is the id of the way it goes, None where that is gone; `jobs` the jobs in the order of the text's numbers;
    `events` days for a calendar (see `core.delivery.calendar`), `made_at` when the news was made.
    """

    id: UUID
    name: str
    address: str
    title: str
    body: str
    way: int | None = None
    jobs: Sequence[int] = ()
    events: Sequence[Mapping[str, Any]] = ()
    made_at: datetime = datetime(2000, 1, 1, tzinfo=UTC)
