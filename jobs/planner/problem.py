"""What a plan is made of: plain data that checks itself. Times are whole minutes since 1970-01-01 UTC. Pure.

The rules that a plan keeps, in words:

- A job goes once or not at all, in one of its ways: so many people, these machines, so many minutes. Everybody of a
  crew is there from its start to its end, in one shift each, having left the shift's first place after the shift begins
  and reaching its last before the shift ends.
- It lies inside one of its windows, in light where it needs light, and on no quiet time of its place.
- Certificates hold for the whole day of the work. Children along keep a person off work that keeps children out.
- A machine serves one job at a time, between the hours it is to be had, and stands where its last job was. One person
  of the crew brings what has to be moved, all from one place in one trip, in a vehicle fit for it.
- A tank carries everything since it was washed; before a job that would suffer from it, it is washed at the job.
- A job that closes its plot is alone there while it goes, and nobody works there for its entry time afterwards. While
  it goes, nobody works on any other plot nearer than its exclusion distance; an unknown distance counts as too near.
- Prerequisites between the jobs are kept, and a job whose predecessor is left out is left out.
- Errands that ride along go only where the same shift works anyway.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from math import isfinite

from jobs.graph.data import Relation
from jobs.planner.roads import Roads

ALONE_ONLY_WITH_CHECK_IN = frozenset({"saw", "spray", "tractor", "mow", "till", "plant"})
NEVER_ALONE = frozenset({"burn"})
KEEPS_CHILDREN_OUT = frozenset({"spray", "burn", "saw", "tractor", "mix", "mow", "till", "plant"})
MILLI = 1000


class WishKind(StrEnum):
    MUST = "must"
    MUST_NOT = "must not"
    KEEP_DAY = "keep day"
    FIRST = "first"


class Level(StrEnum):
    """What the aim asks, one after the other; `AIM` is the order unless the holding has its own. Driving is judged by
    the places that shifts go to; the row of jobs and their hours come last, when it is fixed who does what."""

    KEPT = "kept"
    FIRST = "first"
    ERRANDS = "errands"
    DRIVING = "driving"
    BALANCE = "balance"
    ORDER = "order"
    ROUTE = "route"
    EARLIER = "earlier"


AIM = tuple(Level)


@dataclass(frozen=True, slots=True)
class Day:
    """A local day from its first minute to the next day's, and its light."""

    id: str
    start: int
    end: int
    light_from: int
    light_to: int

    def __post_init__(self) -> None:
        if not self.start <= self.light_from <= self.light_to <= self.end or self.start >= self.end:
            raise ValueError(f"Day {self.id}: the light lies inside the day, and the day ends after it begins.")


@dataclass(frozen=True, slots=True)
class Certificate:
    """A skill or certificate, valid from the first minute to before the last."""

    skill: str
    valid_from: int
    valid_to: int


@dataclass(frozen=True, slots=True)
class Person:
    id: str
    name: str
    certificates: tuple[Certificate, ...] = ()
    hauls: bool = False
    most_days: int | None = None

    def __post_init__(self) -> None:
        if self.most_days is not None and self.most_days < 0:
            raise ValueError(f"{self.name} gives no fewer than 0 days.")

    def holds(self, skill: str, day: Day) -> bool:
        """Whether the skill is valid for the whole of the day."""
        return any(c.skill == skill and c.valid_from <= day.start and day.end <= c.valid_to for c in self.certificates)


@dataclass(frozen=True, slots=True)
class Shift:
    """One stretch of free hours of a person: from where, to where, and whether children are along."""

    id: str
    person: str
    day: str
    start: int
    end: int
    begins_at: str
    ends_at: str
    children: bool = False

    def __post_init__(self) -> None:
        if self.start >= self.end:
            raise ValueError(f"Shift {self.id} ends after it begins.")


@dataclass(frozen=True, slots=True)
class Machine:
    """Stands at a place at first, to be had from `free_from` to before `free_to`. `pulled_by`: machines of which one
    goes with it. `wash_min`: minutes to wash its tank, None for a machine without one; `carries`: what is in it."""

    id: str
    name: str
    stands_at: str
    free_from: int
    free_to: int
    pulled_by: frozenset[str] = frozenset()
    wash_min: int | None = None
    carries: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if self.wash_min is None and self.carries:
            raise ValueError(f"{self.name} has no tank and carries nothing.")
        if self.wash_min is not None and self.wash_min < 0:
            raise ValueError(f"{self.name} is washed in no less than no time.")


@dataclass(frozen=True, slots=True)
class Window:
    """Hours in which a job may go, and what ends them."""

    start: int
    end: int
    closes_by: str = ""

    def __post_init__(self) -> None:
        if self.start >= self.end:
            raise ValueError("A window ends after it begins.")


@dataclass(frozen=True, slots=True)
class Way:
    """One way to do a job: how many people, which machines, how many minutes on the place, acres of each load."""

    crew: int
    minutes: int
    machines: tuple[str, ...] = ()
    loads: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.crew < 1 or self.minutes < 1:
            raise ValueError("A way of doing a job takes one person and one minute at the least.")
        if len(set(self.machines)) != len(self.machines):
            raise ValueError("A way names each machine once.")


@dataclass(frozen=True, slots=True)
class Told:
    """Why a job cannot be planned at all: weather, label, law, contract ... with its sentence. Never relaxed."""

    kind: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Job:
    """One candidate. `share_lost` is the share of the season that is lost if the job misses these days, 0 to 1, over
    `acres` of stand. `one_with`: skills of which one of the crew has each; `all_with`: which everybody has.
    `entry_min`: minutes after its end for which its plot stays closed, None if it closes nothing. `puts`: what it puts
    into a tank; `spoiled_by`: what in a tank would spoil it. `light_after_min`: light needed after its end."""

    id: str
    title: str
    kind: str
    plot: str
    place: str
    acres: float
    share_lost: float
    windows: tuple[Window, ...]
    ways: tuple[Way, ...]
    one_with: tuple[str, ...] = ()
    all_with: tuple[str, ...] = ()
    check_in: bool = False
    needs_light: bool = True
    light_after_min: int = 0
    entry_min: int | None = None
    exclusion_ft: float = 0.0
    puts: frozenset[str] = frozenset()
    spoiled_by: frozenset[str] = frozenset()
    materials: tuple[tuple[str, float], ...] = ()
    rides_along: bool = False
    tools: tuple[str, ...] = ()
    gear: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    told: tuple[Told, ...] = ()

    def __post_init__(self) -> None:
        if not (isfinite(self.acres) and self.acres >= 0 and 0 <= self.share_lost <= 1):
            raise ValueError(f"{self.title}: acres lie at or above 0, the share of the season from 0 to 1.")
        if not self.ways:
            raise ValueError(f"{self.title}: no way of doing it is given.")
        if self.kind in NEVER_ALONE and any(way.crew < 2 for way in self.ways):
            raise ValueError(f"{self.title}: never one person on a burn. Give it two at the least.")
        if self.kind in ALONE_ONLY_WITH_CHECK_IN and not self.check_in and any(way.crew < 2 for way in self.ways):
            raise ValueError(
                f"{self.title}: {self.kind} work alone needs a check-in time. Set one, or plan two people."
            )
        if self.rides_along and self.stake:
            raise ValueError(f"{self.title}: what rides along has no deadline, so nothing is lost without it.")
        if self.kind == "spray" and self.entry_min is None:
            raise ValueError(f"{self.title}: type the entry time of the label; without it nobody may be let in.")
        if (self.entry_min is not None and self.entry_min < 0) or self.exclusion_ft < 0 or self.light_after_min < 0:
            raise ValueError(f"{self.title}: waits and distances lie at or above 0.")

    @property
    def stake(self) -> int:
        """Thousandths of an acre-season that are lost without it."""
        return round(MILLI * self.acres * self.share_lost)

    @property
    def children_out(self) -> bool:
        return self.kind in KEEPS_CHILDREN_OUT


@dataclass(frozen=True, slots=True)
class Link:
    """A prerequisite between two candidates, with elapsed minutes at the least and, unless None, at the most."""

    before: str
    after: str
    least_min: int = 0
    most_min: int | None = None
    relation: Relation = Relation.FINISH_START

    def __post_init__(self) -> None:
        if self.before == self.after:
            raise ValueError("A job does not wait for itself.")
        if self.most_min is not None and self.most_min < self.least_min:
            raise ValueError(f"{self.before} to {self.after}: the longest wait lies below the shortest.")


@dataclass(frozen=True, slots=True)
class Quiet:
    """Nobody works at this place in these minutes."""

    place: str
    start: int
    end: int
    why: str = ""


@dataclass(frozen=True, slots=True)
class Material:
    """What is on hand, and the job that fetches more, so much."""

    id: str
    unit: str
    on_hand: float
    fetched_by: str | None = None
    fetched: float = 0.0


@dataclass(frozen=True, slots=True)
class Wish:
    """*must*: the job goes (by that person, on that day, if named). *must not*: it does not (by that person, on that
    day, if named); without a job: that person does not work (on that day, if named). *keep day*: the job, or without
    one the person's work, lies on no other day. *first*: the job rather than others that lose as much; soft."""

    id: str
    kind: WishKind
    job: str | None = None
    person: str | None = None
    day: str | None = None

    def __post_init__(self) -> None:
        if self.job is None and (self.person is None or self.kind in (WishKind.MUST, WishKind.FIRST)):
            raise ValueError(f"Wish {self.id}: '{self.kind}' needs a job.")
        if self.kind is WishKind.KEEP_DAY and self.day is None:
            raise ValueError(f"Wish {self.id}: 'keep day' needs a day.")


@dataclass(frozen=True)
class Problem:
    """Everything that a plan is made of, in the order of ids whatever order it came in."""

    days: tuple[Day, ...]
    people: tuple[Person, ...]
    shifts: tuple[Shift, ...]
    roads: Roads
    jobs: tuple[Job, ...]
    machines: tuple[Machine, ...] = ()
    links: tuple[Link, ...] = ()
    quiet: tuple[Quiet, ...] = ()
    materials: tuple[Material, ...] = ()
    one_of: tuple[frozenset[str], ...] = ()
    feet: Mapping[tuple[str, str], float] = field(default_factory=dict)
    wishes: tuple[Wish, ...] = ()
    aim: tuple[Level, ...] = AIM

    def __post_init__(self) -> None:
        for name in ("days", "people", "shifts", "jobs", "machines", "materials", "wishes"):
            rows = tuple(sorted(getattr(self, name), key=lambda row: row.id))
            _unique(name, [row.id for row in rows])
            object.__setattr__(self, name, rows)
        object.__setattr__(self, "links", tuple(sorted(self.links, key=lambda k: (k.before, k.after, k.relation))))
        object.__setattr__(self, "one_of", tuple(sorted(self.one_of, key=sorted)))
        _unique("the aim", [str(level) for level in self.aim])
        self._known()
        self._days_apart()
        for job in self.jobs:
            for way in job.ways:
                for name in way.machines:
                    pulls = self.machine(name).pulled_by
                    if pulls and not pulls & set(way.machines):
                        raise ValueError(f"{job.title}: {name} needs one of {', '.join(sorted(pulls))} to go with it.")

    def _known(self) -> None:
        days, people, jobs = ({row.id for row in rows} for rows in (self.days, self.people, self.jobs))
        machines, materials, places = {m.id for m in self.machines}, {m.id for m in self.materials}, self.roads.places
        _among("day", (s.day for s in self.shifts), days)
        _among("person", (s.person for s in self.shifts), people)
        _among("place", (p for s in self.shifts for p in (s.begins_at, s.ends_at)), places)
        _among("place", (job.place for job in self.jobs), places)
        _among("place", (m.stands_at for m in self.machines), places)
        _among("place", (q.place for q in self.quiet), places)
        _among("machine", (m for job in self.jobs for way in job.ways for m in way.machines), machines)
        _among("machine", (m for machine in self.machines for m in machine.pulled_by), machines)
        _among("material", (name for job in self.jobs for name, _ in job.materials), materials)
        _among("job", (j for link in self.links for j in (link.before, link.after)), jobs)
        _among("job", (j for group in self.one_of for j in group), jobs)
        _among("job", (m.fetched_by for m in self.materials if m.fetched_by is not None), jobs)
        _among("job", (w.job for w in self.wishes if w.job is not None), jobs)
        _among("person", (w.person for w in self.wishes if w.person is not None), people)
        _among("day", (w.day for w in self.wishes if w.day is not None), days)

    def _days_apart(self) -> None:
        for shift in self.shifts:
            if not (day := self.day(shift.day)).start <= shift.start < shift.end <= day.end:
                raise ValueError(f"Shift {shift.id} lies inside its day.")
        for person in self.people:
            own = sorted((s.start, s.end) for s in self.shifts if s.person == person.id)
            if any(late[0] < early[1] for early, late in pairwise(own)):
                raise ValueError(f"{person.name} has shifts that overlap.")

    def day(self, name: str) -> Day:
        return next(day for day in self.days if day.id == name)

    def person(self, name: str) -> Person:
        return next(person for person in self.people if person.id == name)

    def machine(self, name: str) -> Machine:
        return next(machine for machine in self.machines if machine.id == name)

    def job(self, name: str) -> Job:
        return next(job for job in self.jobs if job.id == name)

    def near(self, plot: str, other: str) -> float:
        """Feet between two plots, 0 for one and the same and for what nobody knows."""
        return self.feet.get((plot, other), self.feet.get((other, plot), 0.0))


@dataclass(frozen=True, slots=True)
class Item:
    """One job in a plan: by these shifts, in this way. `brings` is the shift of who brings, and washes, its machines;
    `fetched_at` where they stood if they had to be moved; `washed` which tanks were washed there first."""

    job: str
    way: int
    shifts: tuple[str, ...]
    start: int
    end: int
    brings: str | None = None
    fetched_at: str | None = None
    washed: tuple[str, ...] = ()


def _unique(what: str, ids: list[str]) -> None:
    twice = sorted(one for one, times in Counter(ids).items() if times > 1)
    if twice:
        raise ValueError(f"In {what}, {twice[0]} stands twice.")


def _among(what: str, used: Iterable[str], known: Iterable[str]) -> None:
    missing = sorted(set(used) - set(known))
    if missing:
        raise ValueError(f"There is no {what} '{missing[0]}' in this problem.")
