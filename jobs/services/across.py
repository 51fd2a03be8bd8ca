"""Prerequisites between seasons: what a season asks of others, and what others that stand already ask of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from jobs.models import Job, Need, Prerequisite, Report, ReportKind, Season, Sequence
from jobs.reference import reference
from jobs.sequences import SequenceSpec, from_document
from jobs.sequences.expanding import AcrossRow, PrerequisiteRow, across_rows

Key = tuple[int, int, str]
BEGUN = (ReportKind.START, ReportKind.DONE, ReportKind.SKIPPED)


def spec_of(sequence: Sequence) -> SequenceSpec:
    """The checked form of a stored version."""
    return from_document(sequence.document, reference())


def links_across(season: Season, spec: SequenceSpec) -> list[Prerequisite]:
    """The prerequisites that are missing between the jobs of `season`, made from `spec`, and those of other seasons.

    Each job takes the newest predecessor whose first day lies in the rows' days, whichever season was applied first.
    Seasons that are called off stay out of it, and a job that was begun, done or skipped gets no new predecessor. Where
    several rows tie the same two jobs, the longest wait counts."""
    found: dict[Key, Prerequisite] = {}
    for own, row in _rows(season, spec):
        _tie(found, own, row)
    _tie_after(found, list(season.jobs.select_related("plot")))
    return _missing(found)


def links_after(job: Job) -> list[Prerequisite]:
    """The prerequisites that are missing between `job` and jobs of other seasons that wait for its like."""
    found: dict[Key, Prerequisite] = {}
    _tie_after(found, [job])
    return _missing(found)


def _missing(found: dict[Key, Prerequisite]) -> list[Prerequisite]:
    there = Prerequisite.objects.filter(successor__in={successor for _, successor, _ in found})
    known = set(there.values_list("predecessor_id", "successor_id", "relation"))
    return [link for key, link in found.items() if key not in known]


def _rows(season: Season, spec: SequenceSpec) -> Iterator[tuple[Job, AcrossRow]]:
    """Each row with the job that waits by it, the shortest wait first."""
    jobs = {job.step: job for job in season.jobs.filter(occurrence=1, called_off_at=None).select_related("plot")}
    for row in sorted(across_rows(spec, season.year), key=lambda row: row.min_amount):
        if row.successor in jobs and not _begun(jobs[row.successor]):
            yield jobs[row.successor], row


def _tie_after(found: dict[Key, Prerequisite], jobs: list[Job]) -> None:
    """Tie jobs of one season, or one job without a season, to those of others that wait for their like."""
    if not jobs:
        return
    operations, only = {job.operation for job in jobs}, {job.pk for job in jobs}
    for other, row in _rows_of_others(jobs[0], operations):
        _tie(found, other, row, only)


def _rows_of_others(own: Job, operations: set[str]) -> Iterator[tuple[Job, AcrossRow]]:
    others = Season.objects.filter(plot__property=own.plot.property_id, called_off_at=None, sequence__isnull=False)
    specs: dict[int, SequenceSpec] = {}
    for other in others.exclude(pk=own.season_id or 0).select_related("sequence").order_by("id"):
        sequence = other.sequence
        if sequence is None or not any(row["operation"] in operations for row in sequence.document.get("across", ())):
            continue
        spec = specs[sequence.pk] = specs.get(sequence.pk) or spec_of(sequence)
        for job, row in _rows(other, spec):
            if row.operation in operations:
                yield job, row


def _begun(job: Job) -> bool:
    said = Report.objects.filter(job=job, kind__in=BEGUN)
    return said.exclude(pk__in=Report.objects.filter(job=job, corrects__isnull=False).values("corrects")).exists()


def _tie(found: dict[Key, Prerequisite], successor: Job, row: AcrossRow, only: set[int] | None = None) -> None:
    predecessor = _newest(successor, row)
    if predecessor is not None and (only is None or predecessor in only):
        key = (predecessor, successor.pk, row.relation.value)
        found[key] = link_of(successor.holding_id, row, predecessor, successor.pk)


def _newest(successor: Job, row: AcrossRow) -> int | None:
    """The newest job of another season that `row` asks for. Of two jobs of one step the earlier goes first, else each
    would wait for the other."""
    jobs = Job.objects.filter(
        holding_id=successor.holding_id,
        operation=row.operation,
        called_off_at__isnull=True,
        season__called_off_at__isnull=True,
        first_day__gte=row.not_before,
        first_day__lte=row.not_after,
    ).exclude(season=successor.season_id)
    if row.sequences:
        jobs = jobs.filter(season__sequence__key__in=row.sequences)
    if row.scope == "plot":
        jobs = jobs.filter(plot_id=successor.plot_id)
    else:
        jobs = jobs.filter(plot__property_id=successor.plot.property_id)
    for job in jobs.select_related("season__sequence").order_by("-first_day", "-id"):
        if row.tag and row.tag not in job.details.get("tags", ()):
            continue
        if row.actives and not _sprays(job, row.actives):
            continue
        if not _same_step(job, successor) or _place(job) < _place(successor):
            return job.pk
    return None


def _same_step(job: Job, other: Job) -> bool:
    if job.season is None or other.season is None or job.season.sequence is None or other.season.sequence is None:
        return False
    return (job.season.sequence.key, job.step) == (other.season.sequence.key, other.step)


def _place(job: Job) -> tuple[str, int]:
    return job.first_day.isoformat() if job.first_day else "", job.pk


def _sprays(job: Job, actives: Iterable[str]) -> bool:
    named = Need.objects.filter(job=job, material__isnull=False).values_list("material__active", flat=True)
    taken = {part.strip().lower() for text in named for part in text.split(", ")}
    return any(active.lower() in taken for active in actives)


def link_of(
    holding_id: int, row: PrerequisiteRow | AcrossRow, predecessor: int, successor: int, **more: str
) -> Prerequisite:
    """The prerequisite that a row of a sequence stands for, between two jobs; not stored yet."""
    return Prerequisite(
        holding_id=holding_id,
        predecessor_id=predecessor,
        successor_id=successor,
        relation=row.relation.value,
        min_amount=row.min_amount,
        min_unit=row.min_unit.value,
        min_then_days=row.min_then_days,
        max_amount=row.max_amount,
        max_unit=row.max_unit.value if row.max_unit is not None else "",
        confirm=row.confirm,
        source=row.source,
        worth=row.worth,
        note=row.note,
        **more,
    )
