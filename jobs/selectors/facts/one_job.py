"""The facts of one job: its node in the graph, and what its holds read."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any

from jobs.facts import Closure, ConsentFact, JobFacts, MachineNeed, MaterialNeed, SkillNeed
from jobs.folding import Folded
from jobs.graph.data import FAR, NEG, Node
from jobs.minutes import day_end, day_start, local_day
from jobs.models import NeedKind
from jobs.selectors.around import Around
from jobs.selectors.closures import closures, spans
from jobs.selectors.facts.links import look_again
from jobs.selectors.facts.rows import JobRow
from jobs.selectors.facts.told import NOT_YET

WEATHER_REASONS = frozenset({"weather", "wind", "rain", "wet", "frost", "heat"})
"""Reasons of "could not" that clear by themselves on the next day."""

DESK = frozenset({"order", "desk", "pencil_burn", "service", "store"})
"""Operations that nobody has to enter the land for: quiet days, closed seasons and consents do not hold them."""

ANYWHEN = ((NEG, FAR),)


def job_facts(row: JobRow, told: Folded, needs: Iterable[Any], around: Around, now: datetime, local: date) -> JobFacts:
    """What holds read of a job; `local` is the day of `now` in the job's zone."""
    first, last = row.first_day or row.season_first, row.last_day or row.season_last
    on_land = row.operation not in DESK
    overridden, changes = around.overridden(row.id, told, now) if row.id in around.overrides else (frozenset(), ())
    machines, materials, skills = _needs(row, told, needs, around) if needs else ((), (), ())
    return JobFacts(
        row.id,
        row.operation,
        None if first is None else day_start(row.zone, first),
        None if last is None else day_end(row.zone, last),
        _closures(row, first, last, around, local) if on_land else (),
        _consents(row, around) if on_land else (),
        machines,
        materials,
        skills,
        told.trouble,
        _trouble_clears(row, told),
        overridden,
        changes,
        acres=row.acres,
        acres_done=told.acres_done,
        parts=told.parts,
        dates_source=row.dates_source,
        label_until=around.label_until(row.id, now),
    )


def _closures(row: JobRow, first: date | None, last: date | None, around: Around, local: date) -> tuple[Closure, ...]:
    quiet, contracts = around.quiet.get(row.property, ()), around.contracts.get(row.property, ())
    if not quiet and not contracts and row.tenure_ends is None:
        return ()
    return closures(
        operation=row.operation,
        plot=row.plot,
        zone=row.zone,
        first=first or local - timedelta(days=366),
        last=last or local + timedelta(days=732),
        quiet=quiet,
        contracts=contracts,
        tenure_ends=row.tenure_ends,
    )


def _consents(row: JobRow, around: Around) -> tuple[ConsentFact, ...]:
    return tuple(
        ConsentFact(
            consent.pk,
            consent.whose,
            None if consent.given_on is None else day_start(row.zone, consent.given_on),
            None if consent.valid_to is None else day_end(row.zone, consent.valid_to),
        )
        for consent in around.consents.get(row.property, ())
        if consent.operation in ("", row.operation)
    )


def _needs(
    row: JobRow, told: Folded, needs: Iterable[Any], around: Around
) -> tuple[tuple[MachineNeed, ...], tuple[MaterialNeed, ...], tuple[SkillNeed, ...]]:
    left = 0.0 if row.acres is None else max(0.0, row.acres - told.acres_done)
    machines, materials, skills = [], [], []
    for need in needs:
        if need["kind"] == NeedKind.MACHINE:
            listed = around.machines.get(need["name"], [])
            chosen = [fact for pk, fact in listed if need["machine_id"] in (None, pk)]
            machines.append(MachineNeed(need["name"], tuple(chosen)))
        elif need["kind"] == NeedKind.SKILL:
            skills.append(SkillNeed(need["name"], tuple(around.skills.get(need["name"].lower(), ()))))
        elif need["material_id"] is not None:
            amount = need["amount"] or (need["rate_per_acre"] or 0.0) * left
            materials.append(MaterialNeed(need["material_id"], amount, around.stock.get(need["material_id"])))
    return tuple(machines), tuple(materials), tuple(skills)


def _trouble_clears(row: JobRow, told: Folded) -> int | None:
    trouble = told.trouble
    if trouble is None:
        return None
    if trouble.reason in WEATHER_REASONS:
        return day_end(row.zone, local_day(row.zone, trouble.at))
    return look_again(row.zone, trouble.at) if trouble.reason.startswith(NOT_YET) else None


def node_of(row: JobRow, told: Folded, own: JobFacts) -> Node:
    """The job as the graph sees it. Work at the desk of a branch counts to the trunk once it was begun."""
    prepared = row.operation in DESK and (told.started is not None or told.finished is not None)
    bounded = own.first is not None or own.last is not None or own.closures
    return Node(
        row.id,
        row.season or 0,
        row.duration,
        spans(own.first, own.last, own.closures) if bounded else ANYWHEN,
        None if row.deadline is None else day_end(row.zone, row.deadline),
        None if prepared else row.branch,
        told.started,
        told.finished,
        told.rest,
        told.skipped,
        told.skipped_at,
        row.called_off_at is not None or row.season_off is not None,
        told.outcome,
        told.still_to_do,
    )
