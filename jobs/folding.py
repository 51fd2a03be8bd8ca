"""Fold the reports of one job into the facts that the walk reads. Pure: the same reports in any order fold alike.

Order of happening decides, then order of receipt, then id. A report that corrects another takes its place; a
withdrawal takes the other away and says nothing of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from jobs.graph.data import Moment, Skip

NOTHING_LEFT = 0.02
"""A rest below this share of the job's acres counts as done: nobody goes back for it (common practice)."""


@dataclass(frozen=True, slots=True)
class ReportFact:
    """One report of a job. `at` in minutes since 1970-01-01 UTC, two readings where only the day is known."""

    id: int
    kind: str
    at: Moment
    received_at: int
    outcome: str = ""
    acres: float | None = None
    reason: str = ""
    corrects: int | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the job with its own clocks: done then, so many acres."""

    report: int
    at: Moment
    acres: float


@dataclass(frozen=True, slots=True)
class Trouble:
    """The last word on the job was "could not", or that what it looks for is not to be seen yet."""

    report: int
    at: int
    reason: str


@dataclass(frozen=True, slots=True)
class Folded:
    """What the reports say of one job. `rest` is in minutes and None where nothing was done yet."""

    started: Moment | None = None
    finished: Moment | None = None
    skipped: Skip | None = None
    skipped_at: int | None = None
    outcome: str | None = None
    rest: int | None = None
    acres_done: float = 0.0
    parts: tuple[Part, ...] = ()
    trouble: Trouble | None = None
    still_to_do: bool = False


def standing(reports: Iterable[ReportFact]) -> list[ReportFact]:
    """The reports that still stand, in the order of happening."""
    reports = list(reports)
    replaced = {report.corrects for report in reports if report.corrects is not None}
    kept = [report for report in reports if report.id not in replaced and report.kind != "withdrawn"]
    return sorted(kept, key=lambda report: (report.at.late, report.received_at, report.id))


def fold(
    reports: Sequence[ReportFact],
    *,
    duration: int,
    acres: float | None,
    skip_effect: Skip,
    not_yet: Collection[str] = (),
) -> Folded:
    """The facts of a job of `duration` minutes over `acres`.

    Done with fewer acres than the job has leaves it under way with the rest in proportion; done without acres ends it.
    "Could not" takes back a start that no part followed; with acres, those are done. A look that saw one of `not_yet`
    is begun and not done: its longest wait was kept, and it is asked for again.
    """
    started = finished = skipped_at = skipped = outcome = trouble = None
    parts: list[Part] = []
    still_to_do = False
    for report in standing(reports):
        trouble = None
        if report.kind == "start":
            started = started or report.at
        elif report.kind == "seen" and report.outcome in not_yet:
            started = started or report.at
            trouble = Trouble(report.id, report.at.late, report.outcome)
        elif report.kind == "skipped":
            skipped, skipped_at = skip_effect, report.at.late
        elif report.kind == "still_to_do":
            skipped = skipped_at = None
            still_to_do = True
        elif report.kind in ("done", "could_not"):
            if report.acres is not None:
                parts.append(Part(report.id, report.at, report.acres))
                started = started or report.at
            if report.kind == "could_not":
                trouble = Trouble(report.id, report.at.late, report.reason)
                started = started if parts else None
                continue
            so_far = sum(part.acres for part in parts)
            if report.acres is None or acres is None or so_far >= acres * (1 - NOTHING_LEFT):
                finished, outcome = report.at, report.outcome or None
                skipped = skipped_at = None
    done = sum(part.acres for part in parts)
    rest = None
    if finished is not None:
        done = acres if acres is not None else done
    elif parts and acres:
        rest = round(duration * max(0.0, acres - done) / acres)
    return Folded(
        started=started,
        finished=finished,
        skipped=None if finished else skipped,
        skipped_at=None if finished else skipped_at,
        outcome=outcome,
        rest=rest,
        acres_done=done,
        parts=tuple(parts),
        trouble=None if finished or skipped else trouble,
        still_to_do=still_to_do and finished is None,
    )
