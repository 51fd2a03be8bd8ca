"""The tables of `core`: who works, and what is on its way to them."""

from core.models.access import Invitation, Token, TokenKind
from core.models.base import HoldingRow, before, one_of
from core.models.events import Event
from core.models.holding import Graph, Holding, HoldingState, Touched, Units
from core.models.notices import Heartbeat, Notice, NoticeState, NoticeWeight
from core.models.people import (
    Certificate,
    Crew,
    CrewMember,
    FreeException,
    FreeTime,
    Person,
    Role,
    Skill,
    User,
    Way,
    WayKind,
)

__all__ = [
    "Certificate",
    "Crew",
    "CrewMember",
    "Event",
    "FreeException",
    "FreeTime",
    "Graph",
    "Heartbeat",
    "Holding",
    "HoldingRow",
    "HoldingState",
    "Invitation",
    "Notice",
    "NoticeState",
    "NoticeWeight",
    "Person",
    "Role",
    "Skill",
    "Token",
    "TokenKind",
    "Touched",
    "Units",
    "User",
    "Way",
    "WayKind",
    "before",
    "one_of",
]
