"""What the rules read and what they say. Instants are whole minutes since 1970-01-01 UTC, days local civil days."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date

OPENED = "opened"
WINDOW = "window"
WINDOW_GONE = "window_gone"
LAST_DAY = "last_day"
ASSIGNED = "assigned"
LOOK = "look"
STOCK = "stock"
OVERDUE = "overdue"
TELL_FIRST = "tell_first"
ALARM_KIND = "check_in"
KINDS = (OPENED, WINDOW, WINDOW_GONE, LAST_DAY, ASSIGNED, LOOK, STOCK, OVERDUE, TELL_FIRST)
"""Kinds of news that a walk writes and takes back."""

NEWS, CALL, ALARM = "news", "call", "alarm"


@dataclass(frozen=True, slots=True)
class Hearer:
    """Somebody who can be told. `crews` are those they go out with."""

    id: int
    role: str
    crews: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Free:
    """What a person's hours and certificates allow in the next days: the longest free stretch for the job, in minutes.

    `known` is false where the person has listed no hours at all."""

    known: bool
    longest: int
    skills: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Given:
    """A job given to people, by whom, and taken away again by whom; perhaps for a day, with the day's bounds.

    `starts` is the first minute of the hours or of the day, `day_end` the first minute after the day, `next_end` that
    after the following day."""

    id: int
    people: frozenset[int]
    active: bool = True
    day: date | None = None
    day_start: int | None = None
    starts: int | None = None
    day_end: int | None = None
    next_end: int | None = None
    by: int | None = None
    ended_by: int | None = None


@dataclass(frozen=True, slots=True)
class Tell:
    """Somebody outside who is told so many minutes before."""

    id: int
    lead: int


@dataclass(frozen=True, slots=True)
class Begun:
    """The last word on a job was that it is begun: by whom, the end of the day on which it should have ended, and the
    end of the next one."""

    report: int
    person: int
    day_end: int
    next_end: int


@dataclass(frozen=True, slots=True)
class Forecast:
    """What one forecast says of a job's next window, [starts, ends), or that there is none (both None)."""

    issued: int
    starts: int | None = None
    ends: int | None = None
    day: date | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """One job that is not over, as the rules see it.

    `late` is the latest start with its local day; `look` the instant from which a look is due, with its day; `heard_at`
    the instant of the last report; `forecasts` the newest first; `aside` means another way to the same end stands."""

    id: int
    state: str
    workers: tuple[int, ...] = ()
    aside: bool = False
    late: int | None = None
    late_day: date | None = None
    look: int | None = None
    look_day: date | None = None
    given: tuple[Given, ...] = ()
    tells: tuple[Tell, ...] = ()
    begun: Begun | None = None
    heard_at: int | None = None
    forecasts: tuple[Forecast, ...] = ()


@dataclass(frozen=True, slots=True)
class Use:
    """So much of a material is needed by a job from an instant and local day on."""

    job: int
    at: int
    day: date
    amount: float


@dataclass(frozen=True, slots=True)
class CheckIn:
    """Somebody works alone and said when they would call."""

    id: int
    person: int
    job: int
    due: int


@dataclass(frozen=True, slots=True)
class Intent:
    """One piece of news for one person; `basis` is what makes it news, the same news has the same basis.

    `about` is the id of what it is about beside the job: an assignment, a material, a report."""

    person: int
    kind: str
    job: int
    basis: str
    weight: str = NEWS
    about: int = 0

    @property
    def key(self) -> tuple[int, str, int, str]:
        return self.person, self.kind, self.job, self.basis


@dataclass(slots=True)
class Known:
    """News by (person, kind, job), oldest first: its basis, and whether it left already or still waits."""

    told: dict[tuple[int, str, int], dict[str, bool]] = field(default_factory=dict)

    @classmethod
    def of(cls, rows: Iterable[tuple[int, str, int, str, bool]]) -> Known:
        """From (person, kind, job, basis, left) in the order of their writing; by several ways it left if one did."""
        known = cls()
        for person, kind, job, basis, left in rows:
            bases = known.told.setdefault((person, kind, job), {})
            bases[basis] = bases.get(basis, False) or left
        return known

    def bases(self, person: int, kind: str, job: int, prefix: str = "") -> Iterator[tuple[str, bool]]:
        """(basis, it left) of what is known of a kind, oldest first."""
        for basis, left in self.told.get((person, kind, job), {}).items():
            if basis.startswith(prefix):
                yield basis, left

    def left(self, person: int, kind: str, job: int, prefix: str) -> bool:
        return any(left for _, left in self.bases(person, kind, job, prefix))
