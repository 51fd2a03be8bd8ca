"""Laying a sequence out on a year and a plot: plain rows of jobs, prerequisites and branches, keyed by step.

Nothing is stored here and no id is given; repeats appear as their first occurrence with their rule.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from jobs.amounts import amount
from jobs.graph.data import Relation, Skip
from jobs.sequences.spec import (
    AcrossSpec,
    Amount,
    BranchSpec,
    Closing,
    DeadlineRule,
    LimitSpec,
    LinkSpec,
    NeedSpec,
    SequenceSpec,
    StepSpec,
    Unit,
)

_NO_WAIT = Amount(0.0, Unit.DAYS)


@dataclass(frozen=True, slots=True)
class Repeat:
    """Another occurrence `every_days` after the last was done, until a day, a count or the end of a step."""

    every_days: int
    latest_days: int | None
    until: date | None
    at_most: int | None
    until_done: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job to be: days are local civil days, both inclusive, `deadline` the last day by which it must be finished.

    `deadline_note` says how the deadline was found (G6). A job of a replant option carries what closes the option."""

    step: str
    occurrence: int
    operation: str
    title: str
    instruction: str
    duration_min: int
    acres: float
    first_day: date
    last_day: date
    deadline: date | None
    deadline_note: str
    dates_source: str
    dates_worth: str
    branch: str | None
    hazards: tuple[str, ...]
    outcomes: tuple[str, ...]
    observes: Mapping[str, str]
    skip_effect: Skip
    repeat: Repeat | None
    needs: tuple[NeedSpec, ...]
    limits: tuple[LimitSpec, ...]
    closed_by: tuple[Closing, ...]
    tags: tuple[str, ...]
    lead_days: int
    least_crew: int


@dataclass(frozen=True, slots=True)
class PrerequisiteRow:
    """One prerequisite between two job rows, by step key; amounts in their units."""

    predecessor: str
    successor: str
    relation: Relation
    min_amount: float
    min_unit: Unit
    min_then_days: float
    max_amount: float | None
    max_unit: Unit | None
    degree_days: str
    confirm: str
    source: str
    worth: str
    max_source: str
    max_worth: str
    note: str


@dataclass(frozen=True, slots=True)
class OptionRow:
    """Until when a replant is sensible, how that was found, and which actives close it."""

    last_day: date | None
    last_note: str
    source: str
    worth: str
    closed_by: tuple[Closing, ...]
    note: str


@dataclass(frozen=True, slots=True)
class BranchRow:
    """One branch of the season; `opened_by` and `parent` are keys of a step and of a branch."""

    key: str
    name: str
    parent: str | None
    group: str | None
    order: int
    opened_by: str | None
    outcomes: tuple[str, ...]
    expected: bool
    option: OptionRow | None


@dataclass(frozen=True, slots=True)
class AcrossRow:
    """A prerequisite to be tied to a job of another season where there is one that may begin between two days.

    With `actives` only a job that sprays one of them counts; of several rows for the same two jobs the longest wait."""

    sequences: tuple[str, ...]
    operation: str
    tag: str
    scope: str
    actives: tuple[str, ...]
    not_before: date
    not_after: date
    successor: str
    relation: Relation
    min_amount: float
    min_unit: Unit
    min_then_days: float
    max_amount: float | None
    max_unit: Unit | None
    confirm: str
    source: str
    worth: str
    note: str


@dataclass(frozen=True, slots=True)
class Expansion:
    """A season to be, from first to last day."""

    sequence: str
    version: int
    year: int
    first_day: date
    last_day: date
    jobs: tuple[JobRow, ...]
    prerequisites: tuple[PrerequisiteRow, ...]
    branches: tuple[BranchRow, ...]
    across: tuple[AcrossRow, ...]


def expand(
    spec: SequenceSpec,
    label_year: int,
    acres: float,
    *,
    perimeter_ft: float | None = None,
    acres_per_hour: Mapping[str, float] | None = None,
    freezing_normals: Mapping[int, date] | None = None,
) -> Expansion:
    """The season of `spec` with anchor year `label_year` on a plot of `acres`.

    `acres_per_hour` gives the effective field capacity by kind of machine and goes before the default rates; without
    `perimeter_ft` a plot counts as a square. `freezing_normals` gives the first autumn day whose normal
    low is at or below a temperature (degrees F) in the anchor year. Acres are above 0, else ValueError.
    """
    if not acres > 0:
        raise ValueError("Give the plot acres above 0.")
    around_ft = perimeter_ft if perimeter_ft is not None else 4 * math.sqrt(acres * 43_560)
    rates, freezes = acres_per_hour or {}, freezing_normals or {}
    closings = {branch.key: branch.option.closed_by for branch in spec.branches if branch.option is not None}
    return Expansion(
        sequence=spec.key,
        version=spec.version,
        year=label_year,
        first_day=spec.first.in_year(label_year),
        last_day=spec.last.in_year(label_year),
        jobs=tuple(_job(step, label_year, acres, around_ft, rates, freezes, closings) for step in spec.steps),
        prerequisites=tuple(_prerequisite(link) for link in spec.links),
        branches=tuple(_branch(branch, label_year, freezes) for branch in spec.branches),
        across=across_rows(spec, label_year),
    )


def across_rows(spec: SequenceSpec, year: int) -> tuple[AcrossRow, ...]:
    """What the season of `spec` with this anchor year asks of jobs of other seasons."""
    return tuple(_across(row, spec.step(row.to), year) for row in spec.across)


def _across(row: AcrossSpec, to: StepSpec, year: int) -> AcrossRow:
    return AcrossRow(
        row.sequences,
        row.operation,
        row.tag,
        row.scope,
        row.actives,
        to.first.in_year(year) - timedelta(days=row.look_back_days),
        to.last.in_year(year),
        row.to,
        row.relation,
        *_amounts(row.minimum, row.maximum),
        row.confirm,
        row.source,
        row.worth,
        row.note,
    )


def _prerequisite(link: LinkSpec) -> PrerequisiteRow:
    return PrerequisiteRow(
        link.before,
        link.after,
        link.relation,
        *_amounts(link.minimum, link.maximum),
        link.degree_days,
        link.confirm,
        link.source,
        link.worth,
        link.max_source,
        link.max_worth,
        link.note,
    )


def duration_min(step: StepSpec, acres: float, around_ft: float, acres_per_hour: Mapping[str, float]) -> int:
    """Whole minutes of a step on a plot, rounded up. The slowest machine named that has a rate sets the pace."""
    rule = step.duration
    owned = [acres_per_hour[n.name] for n in step.needs if n.kind == "machine" and n.name in acres_per_hour]
    minutes = float(rule.minutes)
    if rule.acres_per_hour is not None:
        minutes += 60 * acres / (min(owned) if owned else rule.acres_per_hour)
    if rule.feet_per_hour is not None:
        minutes += 60 * around_ft / rule.feet_per_hour
    return math.ceil(minutes - 1e-9)


def last_day(rule: DeadlineRule, year: int, freezing_normals: Mapping[int, date]) -> tuple[date | None, str]:
    """The last day of a rule in a year and the sentence of how it was found."""
    fixed = rule.day.in_year(year) if rule.day is not None else None
    if rule.freeze_f is None:
        return fixed, "a day of the sequence"
    freeze = freezing_normals.get(rule.freeze_f)
    if freeze is not None:
        found = freeze - timedelta(days=rule.less_days)
        normal = f"first autumn day with a normal low at or below {rule.freeze_f} F, {freeze.day} {freeze:%b}"
        return found, f"{normal}, less {amount(rule.less_days, 'days')}; half of all years or more freeze before it"
    kind = "a day of the sequence" if fixed else "none set"
    return fixed, f"{kind}: this place has no normal low at or below {rule.freeze_f} F"


def _amounts(minimum: Amount | None, maximum: Amount | None) -> tuple[float, Unit, float, float | None, Unit | None]:
    low = minimum or _NO_WAIT
    high = (maximum.amount, maximum.unit) if maximum is not None else (None, None)
    return low.amount, low.unit, low.then_days, *high


def _job(
    step: StepSpec,
    year: int,
    acres: float,
    around_ft: float,
    rates: Mapping[str, float],
    freezes: Mapping[int, date],
    closings: Mapping[str, tuple[Closing, ...]],
) -> JobRow:
    deadline, note = last_day(step.deadline, year, freezes) if step.deadline is not None else (None, "")
    rule = step.repeat
    repeat = None
    if rule is not None:
        until = rule.until.in_year(year) if rule.until is not None else None
        repeat = Repeat(rule.every_days, rule.latest_days, until, rule.at_most, rule.until_done, rule.source)
    return JobRow(
        step=step.key,
        occurrence=1,
        operation=step.operation,
        title=step.title,
        instruction=step.instruction,
        duration_min=duration_min(step, acres, around_ft, rates),
        acres=acres,
        first_day=step.first.in_year(year),
        last_day=step.last.in_year(year),
        deadline=deadline,
        deadline_note=note,
        dates_source=step.source,
        dates_worth=step.worth,
        branch=step.branch,
        hazards=step.hazards,
        outcomes=step.outcomes,
        observes=dict(step.observes),
        skip_effect=step.skip,
        repeat=repeat,
        needs=step.needs,
        limits=step.limits,
        closed_by=step.closed_by + closings.get(step.branch or "", ()),
        tags=step.tags,
        lead_days=step.lead_days,
        least_crew=step.least_crew,
    )


def _branch(branch: BranchSpec, year: int, freezes: Mapping[int, date]) -> BranchRow:
    option = None
    if branch.option is not None:
        last, note = last_day(branch.option.last, year, freezes)
        rule = branch.option.last
        option = OptionRow(last, note, rule.source, rule.worth, branch.option.closed_by, branch.option.note)
    return BranchRow(
        branch.key,
        branch.name,
        branch.parent,
        branch.group,
        branch.order,
        branch.opened_by,
        branch.outcomes,
        branch.expected,
        option,
    )
