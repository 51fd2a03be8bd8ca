"""What a sequence says, as plain frozen data; amounts carry their unit, days are days of a season."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from jobs.graph.data import Relation, Skip
from jobs.sequences.calendar import SeasonDay


class SequenceError(ValueError):
    """A sequence or reference text that cannot be used; the message lists every fault in plain words."""

    def __init__(self, name: str, faults: list[str]) -> None:
        self.name = name
        self.faults = tuple(faults)
        super().__init__(f"{name}: " + " ".join(faults))


class Unit(StrEnum):
    """What a wait is counted in. `rain_in` is inches of observed rain on one day, which starts a clock of days."""

    HOURS = "hours"
    DAYS = "days"
    DEGREE_DAYS = "degree_days"
    RAIN_IN = "rain_in"


@dataclass(frozen=True, slots=True)
class Amount:
    """A wait: an amount in a unit; after rain, `then_days` more days."""

    amount: float
    unit: Unit
    then_days: float = 0.0

    @property
    def days(self) -> float | None:
        """The wait in days where it is one of fixed length, else None."""
        return {Unit.HOURS: self.amount / 24, Unit.DAYS: self.amount}.get(self.unit)


@dataclass(frozen=True, slots=True)
class DurationRule:
    """How long a job takes: fixed minutes, plus acres at a rate of work, plus feet of fence line at a rate.

    The rates are defaults; a machine with its own width, speed and efficiency goes before `acres_per_hour`."""

    minutes: int = 0
    acres_per_hour: float | None = None
    feet_per_hour: float | None = None


@dataclass(frozen=True, slots=True)
class DeadlineRule:
    """The last day by which a job must be finished: a day, or days before the first killing cold of the place.

    With `freeze_f` the last day is the first autumn day whose normal low is at or below that temperature (degrees F)
    less `less_days` (G6); `day` then serves only where the place has no such day. A normal low is a mean: half of all
    years or more have frozen by that day, and a published median first freeze comes earlier."""

    day: SeasonDay | None
    source: str
    worth: str
    freeze_f: int | None = None
    less_days: int = 0


@dataclass(frozen=True, slots=True)
class RepeatRule:
    """Another occurrence `every_days` after the last one was done, until a day, a count or the end of another job.

    Whichever comes first ends it; `until_done` names steps, any one of which ends it once it is done. `latest_days`
    is the longest that the finish of the next one may be put off, counted from the same day."""

    every_days: int
    source: str
    worth: str
    latest_days: int | None = None
    until: SeasonDay | None = None
    at_most: int | None = None
    until_done: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NeedSpec:
    """What a step takes along: kind is machine, material or skill; name says which kind of machine, role or skill."""

    kind: str
    name: str
    material: str = ""
    rate_per_acre: float | None = None
    rate_unit: str = ""
    source: str = ""
    worth: str = ""


@dataclass(frozen=True, slots=True)
class Saying:
    """What another source says of the same wait or date, kept under its name where sources disagree."""

    says: str
    source: str
    worth: str


@dataclass(frozen=True, slots=True)
class LimitSpec:
    """A bound on weather, ground or growth that a step asks for, beside what label and plan say."""

    what: str
    source: str
    worth: str
    at_least: float | None = None
    at_most: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Closing:
    """An active ingredient that closes a step or an option, for `days` after it was sprayed (None: for this season).

    With `after_rain_in` the days are counted from the first day of so much observed rain after the spray. With
    `written_reason` a manager may open it with a reason in writing, the label in hand."""

    active: str
    source: str
    worth: str
    days: int | None = None
    after_rain_in: float | None = None
    written_reason: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class StepSpec:
    """One field operation of the sequence. `first` and `last` bound the days on which it may be worked, both inclusive.

    `observes` says which observation a report with an outcome also records (emerged: the corn is up)."""

    key: str
    operation: str
    title: str
    instruction: str
    first: SeasonDay
    last: SeasonDay
    source: str
    worth: str
    note: str = ""
    best: tuple[SeasonDay, SeasonDay] | None = None
    branch: str | None = None
    duration: DurationRule = DurationRule()
    deadline: DeadlineRule | None = None
    repeat: RepeatRule | None = None
    hazards: tuple[str, ...] = ()
    skip: Skip = Skip.PASSED_OVER
    outcomes: tuple[str, ...] = ()
    observes: tuple[tuple[str, str], ...] = ()
    needs: tuple[NeedSpec, ...] = ()
    limits: tuple[LimitSpec, ...] = ()
    closed_by: tuple[Closing, ...] = ()
    tags: tuple[str, ...] = ()
    lead_days: int = 0
    least_crew: int = 1
    also: tuple[Saying, ...] = ()


@dataclass(frozen=True, slots=True)
class LinkSpec:
    """A prerequisite between two steps. `confirm` names the observation that closes the minimum (D6).

    `source` and `worth` are those of the minimum (or of the plain order); a maximum may have its own."""

    before: str
    after: str
    source: str
    worth: str
    relation: Relation = Relation.FINISH_START
    minimum: Amount | None = None
    maximum: Amount | None = None
    degree_days: str = ""
    confirm: str = ""
    max_source: str = ""
    max_worth: str = ""
    note: str = ""
    also: tuple[Saying, ...] = ()


@dataclass(frozen=True, slots=True)
class OptionSpec:
    """What stands against taking a branch as a replant: its last sensible day, and what was sprayed."""

    last: DeadlineRule
    closed_by: tuple[Closing, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class BranchSpec:
    """A named set of steps: an alternative of `group`, or called for by an outcome of `opened_by` (D10, D11)."""

    key: str
    name: str
    group: str | None = None
    order: int = 0
    parent: str | None = None
    opened_by: str | None = None
    outcomes: tuple[str, ...] = ()
    expected: bool = False
    option: OptionSpec | None = None


@dataclass(frozen=True, slots=True)
class AcrossSpec:
    """A prerequisite on a job of another season, if there is one: of these sequences (none named: of any), with this
    operation and, if given, this tag, on the same plot or anywhere on the property, not older than `look_back_days`.

    With `actives` it holds only where one of these active ingredients was sprayed. Where several rows tie the same two
    jobs, the longest wait counts."""

    operation: str
    to: str
    source: str
    worth: str
    sequences: tuple[str, ...] = ()
    tag: str = ""
    scope: str = "plot"
    actives: tuple[str, ...] = ()
    look_back_days: int = 400
    relation: Relation = Relation.FINISH_START
    minimum: Amount | None = None
    maximum: Amount | None = None
    confirm: str = ""
    note: str = ""
    also: tuple[Saying, ...] = ()


@dataclass(frozen=True, slots=True)
class SequenceSpec:
    """A whole sequence, checked. A season of it runs from `first` to `last` of its anchor year."""

    key: str
    version: int
    name: str
    purpose: str
    region: str
    first: SeasonDay
    last: SeasonDay
    steps: tuple[StepSpec, ...]
    links: tuple[LinkSpec, ...]
    crop: str = ""
    habitat: str = ""
    note: str = ""
    branches: tuple[BranchSpec, ...] = ()
    across: tuple[AcrossSpec, ...] = ()

    def step(self, key: str) -> StepSpec:
        return next(s for s in self.steps if s.key == key)
