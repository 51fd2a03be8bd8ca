"""Prerequisites between seasons: what a season asks of others, and what others that stand already ask of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, NamedTuple

from django.db.models import Exists, OuterRef, Q, QuerySet

from core.models import Event, Person
from jobs.models import Job, Need, Prerequisite, Report, ReportKind, Season, Sequence
from jobs.reference import reference
from jobs.selectors.facts.rows import few
from jobs.sequences import SequenceSpec, from_document
from jobs.sequences.expanding import AcrossRow, PrerequisiteRow, across_rows
from jobs.services.links import MINUTES, add_links, change_link, remove_link

Key = tuple[int, int, str]
Asked = tuple[Job, AcrossRow]
"""A job that waits, and the row by which it does."""

BEGUN = (ReportKind.START, ReportKind.DONE, ReportKind.SKIPPED)
CARRIED = (
    "min_amount", "min_unit", "min_then_days", "max_amount", "max_unit", "confirm", "source", "worth", "note",
)  # fmt: skip
"""What a row of a sequence says of the wait."""


@dataclass(frozen=True, slots=True)
class Ties:
    """What has to change between seasons: prerequisites to be made, those that stand with what they are to say from now
    on, and those that nothing asks for any more."""

    missing: list[Prerequisite]
    changed: list[Prerequisite] = field(default_factory=list)
    stale: list[Prerequisite] = field(default_factory=list)


class _Like(NamedTuple):
    """What decides whether a row asks for a job."""

    pk: int
    plot: int
    property: int
    season: int | None
    key: str | None
    step: str
    operation: str
    first_day: date
    tags: frozenset[str]
    actives: frozenset[str]


def spec_of(sequence: Sequence) -> SequenceSpec:
    """The checked form of a stored version."""
    return from_document(sequence.document, reference())


def ties_across(season: Season, spec: SequenceSpec) -> Ties:
    """What has to be tied between the jobs of `season`, made from `spec`, and those of other seasons.

    Each job takes the newest predecessor whose first day lies in the rows' days, whichever season was applied first.
    Seasons that are called off stay out of it, and a job that was begun, done or skipped gets no new predecessor. Where
    several rows tie the same two jobs, the longest wait counts, also over a tie that stands. A tie that somebody
    removed or changed stays as they left it."""
    found: dict[Key, Prerequisite] = {}
    _tie(found, _waiting([(season, across_rows(spec, season.year))]))
    _tie_after(found, list(season.jobs.select_related("plot")))
    return _settled(found)


def ties_after(job: Job) -> Ties:
    """What has to be tied between `job`, whose materials changed, and jobs of other seasons that wait for its like.

    A tie that only another material had asked for is stale, or says what the new one asks for; not of a job that was
    begun: what was sprayed was sprayed."""
    found: dict[Key, Prerequisite] = {}
    _tie_after(found, [job])
    outlived = [] if _begun([job.pk]) else list(_outlived(job))
    _tie(found, [(link.successor, row) for link, row in outlived])
    ties = _settled(found)
    for link, _ in outlived:
        key = _key(link)
        if key not in found:
            ties.stale.append(link)
        elif link not in ties.changed:
            ties.changed.append(_with(link, found[key]))
    return ties


def settle(*, holding_id: int, ties: Ties, by: Person | None, more: Iterable[Prerequisite] = ()) -> None:
    """Store the ties, and `more` new prerequisites with them; call it inside the transaction of their cause.

    Raises:
        Refused: as `add_links` and `change_link`.
    """
    for link in ties.stale:
        remove_link(link=link, by=by, because="the material that asked for it was changed")
    for link in ties.changed:
        change_link(link=link, by=by, fields=CARRIED, because="a sequence asks for another wait")
    add_links(holding_id=holding_id, links=[*more, *ties.missing], by=by)


def _settled(found: Mapping[Key, Prerequisite]) -> Ties:
    """What of `found` is missing, and which ties that stand are to wait longer; a person's word goes before both."""
    standing = {_key(link): link for link in Prerequisite.objects.filter(successor__in={key[1] for key in found})}
    kept, removed = _changed_by_hand(standing.values()), _removed_by_hand(found)
    missing, changed = [], []
    for key, link in found.items():
        there = standing.get(key)
        if there is None:
            missing += [] if key in removed else [link]
        elif there.pk not in kept and _waits_longer(link, there):
            changed.append(_with(there, link))
    return Ties(missing, changed)


def _outlived(job: Job) -> Iterator[tuple[Prerequisite, AcrossRow]]:
    """Ties from `job` that only a row for an active asks for that the job does not spray any more."""
    links = Prerequisite.objects.filter(predecessor=job, successor__season__sequence__isnull=False)
    links = links.exclude(successor__season=job.season_id).select_related(
        "successor__plot", "successor__season__sequence"
    )
    rows = list(links.order_by("id"))
    kept, sprayed = _changed_by_hand(rows), _actives([job.pk])[job.pk]
    for link in rows:
        season = link.successor.season
        if link.pk in kept or season is None or season.sequence is None:
            continue
        asked = across_rows(spec_of(season.sequence), season.year)
        mine = [row for row in asked if row.successor == link.successor.step and _says(link, row)]
        if mine and all(row.actives and not _sprays(sprayed, row.actives) for row in mine):
            yield link, mine[0]


def _says(link: Prerequisite, row: AcrossRow) -> bool:
    asked = link_of(link.holding_id, row, link.predecessor_id, link.successor_id)
    return all(getattr(link, name) == getattr(asked, name) for name in ("relation", *CARRIED))


def _key(link: Prerequisite) -> Key:
    return link.predecessor_id, link.successor_id, link.relation


def _with(link: Prerequisite, asked: Prerequisite) -> Prerequisite:
    for name in CARRIED:
        setattr(link, name, getattr(asked, name))
    return link


def _waits_longer(one: Prerequisite, other: Prerequisite) -> bool:
    """Whether the shortest wait of `one` is longer; waits in units that cannot be compared are not."""
    if one.min_unit in MINUTES and other.min_unit in MINUTES:
        return one.min_amount * MINUTES[one.min_unit] > other.min_amount * MINUTES[other.min_unit]
    mine, theirs = (one.min_amount, one.min_then_days), (other.min_amount, other.min_then_days)
    return one.min_unit == other.min_unit and mine > theirs


def _lines() -> QuerySet[Event]:
    """What the log tells of prerequisites by somebody's word: where the program did it, it says because of what."""
    return Event.objects.filter(object="prerequisite").exclude(change__has_key="because")


def _changed_by_hand(links: Iterable[Prerequisite]) -> set[int]:
    """Those that somebody made or changed by hand."""
    told = _lines().filter(object_id__in=[link.pk for link in links])
    told = told.filter(Q(verb="changed") | Q(verb="added", change__has_key="predecessor"))
    return {pk for pk in told.values_list("object_id", flat=True) if pk is not None}


def _removed_by_hand(found: Mapping[Key, Prerequisite]) -> set[Key]:
    """Those of the keys that somebody removed once."""
    holdings = {link.holding_id for link in found.values()}
    befores, afters = {key[0] for key in found}, {key[1] for key in found}
    told = _lines().filter(
        holding_id__in=holdings,
        verb="removed",
        change__has_key="successor",
        **few(change__predecessor__in=befores, change__successor__in=afters),
    )
    gone = {
        (line["predecessor"], line["successor"], line["relation"]) for line in told.values_list("change", flat=True)
    }
    return gone & found.keys()


def _waiting(seasons: Iterable[tuple[Season, Iterable[AcrossRow]]]) -> list[Asked]:
    """Each row with the job of its season that waits by it, the seasons as given and the shortest wait first; jobs that
    are called off or begun wait no more."""
    asked = {season.pk: sorted(rows, key=lambda row: row.min_amount) for season, rows in seasons}
    jobs = Job.objects.filter(season__in=asked, occurrence=1, called_off_at=None)
    jobs = jobs.filter(step__in={row.successor for rows in asked.values() for row in rows})
    begun = _begun(jobs.values("pk"))
    there = jobs.exclude(pk__in=begun).select_related("plot", "season__sequence").defer("season__sequence__document")
    by_step = {(job.season_id, job.step): job for job in there}
    return [
        (by_step[pk, row.successor], row)
        for pk, rows in asked.items()
        for row in rows
        if (pk, row.successor) in by_step
    ]


def _tie_after(found: dict[Key, Prerequisite], jobs: list[Job]) -> None:
    """Tie jobs of one season, or one job without a season, to those of others that wait for their like."""
    if jobs:
        _tie(found, _waiting(_others(jobs[0], {job.operation for job in jobs})), {job.pk for job in jobs})


def _others(own: Job, operations: set[str]) -> Iterator[tuple[Season, list[AcrossRow]]]:
    """The other seasons on the property, with their rows that ask for one of these operations."""
    others = Season.objects.filter(plot__property=own.plot.property_id, called_off_at=None, sequence__isnull=False)
    specs: dict[int, SequenceSpec] = {}
    for other in others.exclude(pk=own.season_id or 0).select_related("sequence").order_by("id"):
        sequence = other.sequence
        if sequence is None or not any(row["operation"] in operations for row in sequence.document.get("across", ())):
            continue
        spec = specs[sequence.pk] = specs.get(sequence.pk) or spec_of(sequence)
        yield other, [row for row in across_rows(spec, other.year) if row.operation in operations]


def _begun(jobs: Collection[int] | QuerySet[Job, Any]) -> set[int]:
    """Those of the jobs that were begun, done or skipped by a report that stands."""
    correction = Report.objects.filter(corrects=OuterRef("pk"), job=OuterRef("job"))
    said = Report.objects.filter(~Exists(correction), job__in=jobs, kind__in=BEGUN)
    return {pk for pk in said.values_list("job_id", flat=True) if pk is not None}


def _tie(found: dict[Key, Prerequisite], asked: Collection[Asked], only: set[int] | None = None) -> None:
    """Tie each job to the newest that its row asks for; with `only`, where that is one of these."""
    if not asked:
        return
    likes = _likes(asked)
    for successor, row in asked:
        predecessor = next((like.pk for like in likes if _suits(like, successor, row)), None)
        if predecessor is not None and (only is None or predecessor in only):
            key = (predecessor, successor.pk, row.relation.value)
            found[key] = link_of(successor.holding_id, row, predecessor, successor.pk)


def _likes(asked: Collection[Asked]) -> list[_Like]:
    """Every job that one of the rows may ask for, the newest first."""
    rows = [row for _, row in asked]
    jobs = Job.objects.filter(
        holding_id__in={successor.holding_id for successor, _ in asked},
        plot__property__in={successor.plot.property_id for successor, _ in asked},
        operation__in={row.operation for row in rows},
        called_off_at__isnull=True,
        season__called_off_at__isnull=True,
        first_day__gte=min(row.not_before for row in rows),
        first_day__lte=max(row.not_after for row in rows),
    )
    sprayed = _actives(jobs.values("pk")) if any(row.actives for row in rows) else {}
    columns: tuple[str, ...] = (
        "pk", "plot_id", "plot__property_id", "season_id", "season__sequence__key", "step", "operation", "first_day",
    )  # fmt: skip
    told: Iterable[tuple[Any, ...]] = jobs.order_by("-first_day", "-id").values_list(*columns, "details")
    return [
        _Like._make((*like, frozenset(details.get("tags", ())), sprayed.get(like[0], frozenset())))
        for *like, details in told
    ]


def _suits(like: _Like, successor: Job, row: AcrossRow) -> bool:
    """Whether `row` asks for the job. Of two jobs of one step the earlier goes first, else each would wait for the
    other."""
    here = like.plot == successor.plot_id if row.scope == "plot" else like.property == successor.plot.property_id
    return (
        here
        and like.operation == row.operation
        and row.not_before <= like.first_day <= row.not_after
        and (like.season is None or like.season != successor.season_id)
        and (not row.sequences or like.key in row.sequences)
        and (not row.tag or row.tag in like.tags)
        and (not row.actives or _sprays(like.actives, row.actives))
        and (not _same_step(like, successor) or (like.first_day.isoformat(), like.pk) < _place(successor))
    )


def _same_step(like: _Like, job: Job) -> bool:
    sequence = job.season.sequence if job.season is not None else None
    return like.key is not None and sequence is not None and (like.key, like.step) == (sequence.key, job.step)


def _place(job: Job) -> tuple[str, int]:
    return job.first_day.isoformat() if job.first_day else "", job.pk


def _actives(jobs: Collection[int] | QuerySet[Job, Any]) -> defaultdict[int, frozenset[str]]:
    """The active ingredients of the materials that each of the jobs takes, in small letters."""
    found: defaultdict[int, frozenset[str]] = defaultdict(frozenset)
    named = Need.objects.filter(job__in=jobs, material__isnull=False).values_list("job_id", "material__active")
    for job, text in named:
        found[job] |= {part.strip().lower() for part in text.split(", ")}
    return found


def _sprays(taken: Collection[str], actives: Iterable[str]) -> bool:
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
