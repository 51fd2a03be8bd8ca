"""A message on its way to one person."""

from dataclasses import dataclass
from uuid import UUID


@dataclass(frozen=True, slots=True)
class Message:
    """`id` is the notice's and the same on every try, so that whoever gets a message twice can tell."""

    id: UUID
    name: str
    address: str
    title: str
    body: str
