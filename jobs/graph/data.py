"""Plain data of the graph: what a walk over it reads and what it returns.

All instants and durations are whole minutes (int); instants count from 1970-01-01 00:00 UTC. `FAR` means
"not within what we know" and `NEG` "no bound"; both saturate, so FAR plus anything is FAR.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from plots.degree_days import FAR, NEG, Curve

__all__ = [
    "FAR",
    "NEG",
    "Arc",
    "Branch",
    "BranchState",
    "Cause",
    "Curve",
    "Dates",
    "DegreeDays",
    "Fixed",
    "Lag",
    "Moment",
    "Node",
    "Problem",
    "Rain",
    "Relation",
    "Schedule",
    "Skip",
    "Why",
]


class Relation(StrEnum):
    """Which end of the predecessor is tied to which end of the successor (precedence diagramming)."""

    FINISH_START = "FS"
    START_START = "SS"
    FINISH_FINISH = "FF"
    START_FINISH = "SF"


@dataclass(frozen=True, slots=True)
class Fixed:
    """A lag of elapsed minutes; negative is a lead. One day of lag is 1,440 minutes."""

    minutes: int


@dataclass(frozen=True, slots=True)
class DegreeDays:
    """A lag in hundredths of a degree day on one curve; counting starts the day after the anchor (D5)."""

    curve: int
    hundredths: int


@dataclass(frozen=True, slots=True)
class Rain:
    """A clock that starts on the first day whose *observed* rain reaches an amount, plus a fixed part (D5).

    `curve` names a rain curve (hundredths of an inch a day, only observed days are counted)."""

    curve: int
    hundredths: int
    then_minutes: int = 0


Lag = Fixed | DegreeDays | Rain


@dataclass(slots=True, unsafe_hash=True)
class Arc:
    """One prerequisite: `tail` is the predecessor, `head` the successor (D1).

    `confirm` says that an observation closes the minimum (D6); `confirmed_at` is that observation's instant.
    `soft` marks a wait whose source is common practice: a manager may change it (D13, ways out).
    """

    id: int
    tail: int
    head: int
    relation: Relation = Relation.FINISH_START
    minimum: Lag | None = None
    maximum: Lag | None = None
    confirm: bool = False
    confirmed_at: int | None = None
    soft: bool = False


class Skip(StrEnum):
    """What a job skipped on purpose does to its successors (D7)."""

    SATISFIED = "satisfied"
    PASSED_OVER = "passed_over"


@dataclass(frozen=True, slots=True)
class Moment:
    """A reported instant with two readings: `late` for minimal lags and label clocks, `early` for maximal lags.

    They differ only where a report named a day and no hour (D7)."""

    early: int
    late: int

    @classmethod
    def at(cls, minute: int) -> Moment:
        return cls(minute, minute)


@dataclass(slots=True, unsafe_hash=True)
class Node:
    """One job as the graph sees it.

    `spans` are the half-open stretches [from, to) in which work may be going on: the season's dates less every
    closure (D3), sorted and disjoint; an empty tuple means nowhere. `duration` is the whole job, or of a partly done
    job the whole job as well, with `rest` the minutes still to do. `still_to_do` is the manager's answer that the job
    is yet to be done although a successor of it was reported.
    """

    id: int
    season: int
    duration: int
    spans: tuple[tuple[int, int], ...] = ((NEG, FAR),)
    deadline: int | None = None
    branch: int | None = None
    started: Moment | None = None
    finished: Moment | None = None
    rest: int | None = None
    skipped: Skip | None = None
    skipped_at: int | None = None
    called_off: bool = False
    outcome: str | None = None
    still_to_do: bool = False


@dataclass(frozen=True, slots=True)
class Branch:
    """A named set of jobs inside a season (D10, D11).

    Branches with the same (season, group) are alternatives in the manager's `order`. A branch with `opened_by` is
    called for only when that job is done with an outcome in `outcomes`; `expected` puts it into the reference copy
    while the outcome is unknown. `parent` is the branch it is nested in.
    """

    id: int
    season: int
    group: str | None = None
    order: int = 0
    parent: int | None = None
    opened_by: int | None = None
    outcomes: frozenset[str] = frozenset()
    expected: bool = False
    called_off: bool = False


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything the graph needs, once per holding or per component. `today` is t0: the first instant of the holding's
    local day. Order of the tuples carries no meaning (D18)."""

    today: int
    nodes: tuple[Node, ...]
    arcs: tuple[Arc, ...] = ()
    branches: tuple[Branch, ...] = ()
    curves: Mapping[int, Curve] = field(default_factory=dict)


class BranchState(StrEnum):
    """State of a branch from facts alone (D10, D11)."""

    CHOSEN = "chosen"
    DEAD = "dead"
    PAUSED = "paused"
    NOT_CALLED_FOR = "not_called_for"
    OPEN = "open"


class Cause(StrEnum):
    """What set a date: the source of why_es or why_ls."""

    TODAY = "today"
    SPAN = "span"
    FACT = "fact"
    DEADLINE = "deadline"
    ARC = "arc"
    NONE = "none"


@dataclass(slots=True, unsafe_hash=True)
class Why:
    """The binding reason of a date; `arc` is the binding arc where cause is ARC, None where a job waits for the check
    that would open its branch (D11). Ties go to the lowest arc id; an arc goes before a span, a span before today.

    Following reasons never runs in a circle. NONE: nothing bounds the date, or lags on weather close a circle."""

    cause: Cause
    arc: int | None = None


@dataclass(slots=True, unsafe_hash=True)
class Dates:
    """What the graph says of one job (D8 to D12).

    es/ef earliest start and finish, ls/lf latest, FAR where unknown or without deadline; slack in minutes (FAR without
    deadline); `last_chance` the greatest ls over all copies; `look_by` for a check: the latest start its unexpected
    branches allow (D11). `contradiction` marks jobs whose maximal lags were set aside (D14). `conflict` marks a job of
    a branch beside which a sibling was done too (D10). `out_of_order` lists arcs between two facts that were violated
    (D7). `on_reference` is False for jobs whose dates come from a copy of their own, and for jobs of a dead branch,
    which have none: es and ls are FAR. What stands (done, skipped and satisfied) has es = ls, slack 0, and is never
    critical.
    """

    job: int
    es: int
    ef: int
    ls: int
    lf: int
    slack: int
    critical: bool
    why_es: Why
    why_ls: Why
    last_chance: int
    look_by: int | None = None
    contradiction: bool = False
    conflict: bool = False
    out_of_order: tuple[int, ...] = ()
    on_reference: bool = True


@dataclass(frozen=True, slots=True)
class Schedule:
    """Dates of every job by id, and the state of every branch by id."""

    dates: Mapping[int, Dates]
    branches: Mapping[int, BranchState]
