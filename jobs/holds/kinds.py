"""What a hold is: its kind, the fact behind it and what clears it (D16). Pure plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any


class HoldKind(StrEnum):
    """Kinds of holds; each has a sentence, a test that makes it and one that clears it."""

    PREDECESSOR = "predecessor"
    LAG = "lag"
    LOOK = "look"
    RAIN = "rain"
    UNKNOWN = "unknown"
    SEASON = "season"
    CONTRACT = "contract"
    QUIET = "quiet"
    BAN = "ban"
    TENURE = "tenure"
    NO_FIT = "no_fit"
    TOO_EARLY = "too_early"
    QUESTION = "question"
    TROUBLE = "trouble"
    MACHINE = "machine"
    MATERIAL = "material"
    SKILL = "skill"
    CONSENT = "consent"
    SPRAYED = "sprayed"
    PAUSED = "paused"
    CONTRADICTION = "contradiction"
    ENTRY = "entry"
    LABEL = "label"
    LABEL_WAIT = "label_wait"
    TOLERANCE = "tolerance"
    TANK = "tank"
    SEASON_TOTAL = "season_total"
    FOOD_PLOT_CAP = "food_plot_cap"
    YEARLY_SHARE = "yearly_share"
    PURPOSE = "purpose"
    FIREBREAK = "firebreak"
    PERMIT = "permit"
    CREW = "crew"
    SIGNS = "signs"
    AGENCY = "agency"
    LONE_WORK = "lone_work"
    STAND = "stand"
    EXCLUSION_ZONE = "exclusion_zone"


OVERRIDABLE = frozenset(
    {
        HoldKind.TROUBLE,
        HoldKind.MACHINE,
        HoldKind.MATERIAL,
        HoldKind.SPRAYED,
        HoldKind.LABEL,
        HoldKind.FOOD_PLOT_CAP,
        HoldKind.YEARLY_SHARE,
        HoldKind.AGENCY,
        HoldKind.LONE_WORK,
        HoldKind.STAND,
    }
)
"""Holds that a manager may set aside with a written reason. Order, waits, law and consent are changed as facts."""


def verdict(kind: HoldKind) -> str:
    """ "written reason" where a manager may set it aside, else "stop"."""
    return "written reason" if kind in OVERRIDABLE else "stop"


DAYS = frozenset({HoldKind.SEASON, HoldKind.CONTRACT, HoldKind.QUIET, HoldKind.BAN, HoldKind.TENURE})
"""Holds of days on which the job may not be done."""


class Clearing(StrEnum):
    """What clears a hold: an instant, a report, a decision, or nothing any more."""

    AT = "at"
    REPORT = "report"
    DECISION = "decision"
    NEVER = "never"


@dataclass(slots=True, unsafe_hash=True)
class Clears:
    """`at` in minutes with AT (and `predicted`); `job` and `report` with REPORT; `who` with DECISION."""

    how: Clearing
    at: int | None = None
    predicted: bool = False
    job: int | None = None
    report: str = ""
    who: str = ""


@dataclass(slots=True, unsafe_hash=True)
class Hold:
    """One reason. `rule` names the fact behind it ("prerequisite:12"), `source` where its figure comes from."""

    kind: HoldKind
    job: int
    rule: str
    clears: Clears
    source: str = ""
    inputs: Mapping[str, Any] = field(default_factory=dict)


def at(instant: int, *, predicted: bool = False) -> Clears:
    return Clears(Clearing.AT, at=instant, predicted=predicted)


def by_report(job: int | None, report: str) -> Clears:
    return Clears(Clearing.REPORT, job=job, report=report)


def by_decision(who: str) -> Clears:
    return Clears(Clearing.DECISION, who=who)
