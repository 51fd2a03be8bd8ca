"""Walk a holding's graph: facts to reckonings and reminders, in one short transaction at the end."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F, Q

from core.clock import now_at
from core.models import Graph, Holding, HoldingState, Touched
from core.services.facts import lock_graph
from jobs.minutes import floor_minute, instant
from jobs.reckoning import remember, row_of
from jobs.selectors.components import components_of
from jobs.selectors.facts import MOST, Loaded, load
from jobs.selectors.windows import JobWindows, job_windows
from jobs.services import saving
from jobs.services.paces import learn_durations
from jobs.services.repeats import keep_occurrences
from jobs.services.telling import tell
from jobs.walk import Walk, walk

TRIES = 3
ENDED = ("done", "called_off")


@dataclass(frozen=True, slots=True)
class Walked:
    """What a walk did: jobs reckoned, rows changed, notices written and taken back, next occurrences made or
    changed, durations that follow what was reported."""

    reckoned: int = 0
    changed: tuple[int, ...] = ()
    notices: int = 0
    withdrawn: int = 0
    occurrences: int = 0
    durations: int = 0


def walk_holding(holding_id: int, *, now: datetime | None = None, whole: bool = False) -> Walked:
    """Bring the reckonings of a holding up to its facts; a holding that is up to date costs one look.

    Walks the components that changed facts concern, or all when the clock passed `wake_at` or `whole` is asked. Reads
    and computes without a lock; then, in one transaction, locks the graph row, throws the work away if the facts moved
    meanwhile (the third try holds the lock throughout), writes what changed, what is news, the next occurrences of
    what comes round again and the durations learned from reports; these are then walked too.
    """
    for attempt in range(1, TRIES + 1):
        done = _locked_walk(holding_id, now, whole) if attempt == TRIES else _free_walk(holding_id, now, whole)
        if done is not None:
            if not done.occurrences and not done.durations:
                return done
            then = walk_holding(holding_id, now=now)
            return Walked(
                done.reckoned + then.reckoned,
                tuple(sorted({*done.changed, *then.changed})),
                done.notices + then.notices,
                done.withdrawn + then.withdrawn,
                done.occurrences + then.occurrences,
                done.durations + then.durations,
            )
    raise AssertionError("the walk that holds the lock always ends")


def differences(holding_id: int, *, now: datetime | None = None) -> dict[int, tuple[str, ...]]:
    """By job: the columns in which the stored reckoning is not what a walk over the whole holding gives now.

    Stores nothing. Computes without a lock and compares under it where the facts stood meanwhile; the third try holds
    the lock throughout."""
    for attempt in range(1, TRIES + 1):
        graph = Graph.objects.get(holding_id=holding_id)
        holding, moment = _holding(holding_id, now)
        work = _free_work(holding, graph, moment, whole=True) if attempt < TRIES else None
        if work is None and attempt < TRIES:
            continue
        with transaction.atomic():
            locked = lock_graph(holding_id)
            if work is None:
                holding, moment = _holding(holding_id, now)
            if work is None or _stands(graph, locked):
                computed = _rows(work or _compute(holding, locked, moment, whole=True))
                stored = saving.stored(holding_id)
                remember(computed, stored)
                return _differing(computed, stored)
    raise AssertionError("the comparison that holds the lock always ends")


def _differing(computed: dict[int, Any], stored: dict[int, Any]) -> dict[int, tuple[str, ...]]:
    found = {}
    for job in sorted(computed.keys() | stored.keys()):
        ours, theirs = computed.get(job, {}), stored.get(job, {})
        columns = tuple(name for name in saving.NAMES if ours.get(name) != theirs.get(name) or not ours or not theirs)
        if columns:
            found[job] = columns
    return found


def due_holdings(now: datetime) -> list[int]:
    """Holdings whose facts moved since their walk, or whose clock passed the instant to look again: one query.

    The database picks them; a holding that has nothing to do is not read into the program."""
    passed = Q(holding__clock_at=None, wake_at__lte=now) | Q(holding__clock_at__gte=F("wake_at"))
    due = Graph.objects.filter(holding__state=HoldingState.ACTIVE)
    due = due.filter(~Q(facts_version=F("walked_version")) | Q(wake_at=None) | passed)
    return list(due.order_by("holding_id").values_list("holding_id", flat=True))


def _passed(wake: datetime | None, now: datetime) -> bool:
    return wake is None or now >= wake


def _holding(holding_id: int, now: datetime | None) -> tuple[Holding, datetime]:
    """The holding and its instant. Read it after the graph row: zone and clock are facts like any other, and a change
    of them between the two readings would else count as walked."""
    holding = Holding.objects.get(pk=holding_id)
    return holding, now or now_at(holding)


def _free_walk(holding_id: int, now: datetime | None, whole: bool) -> Walked | None:
    graph = Graph.objects.get(holding_id=holding_id)
    holding, moment = _holding(holding_id, now)
    if not whole and graph.facts_version == graph.walked_version and not _passed(graph.wake_at, moment):
        return Walked()
    work = _free_work(holding, graph, moment, whole)
    if work is None:
        return None
    with transaction.atomic():
        locked = lock_graph(holding_id)
        return _store(holding, locked, work, moment) if _stands(graph, locked) else None


def _free_work(holding: Holding, graph: Graph, now: datetime, whole: bool) -> _Work | None:
    """The walk without a lock; None if a write between two of its reads tore them, which shows as an id not found."""
    try:
        return _compute(holding, graph, now, whole)
    except (LookupError, ValueError):
        if _stands(graph, Graph.objects.get(pk=graph.pk)):
            raise
        return None


def _stands(graph: Graph, later: Graph) -> bool:
    return (later.facts_version, later.walked_version) == (graph.facts_version, graph.walked_version)


def _locked_walk(holding_id: int, now: datetime | None, whole: bool) -> Walked:
    with transaction.atomic():
        graph = lock_graph(holding_id)
        holding, moment = _holding(holding_id, now)
        return _store(holding, graph, _compute(holding, graph, moment, whole), moment)


@dataclass(frozen=True, slots=True)
class _Work:
    components: set[int] | None
    loaded: Loaded
    walk: Walk
    windows: JobWindows


def _compute(holding: Holding, graph: Graph, now: datetime, whole: bool) -> _Work:
    components: set[int] | None = None
    if not whole and graph.walked_version and not _passed(graph.wake_at, now):
        keys = Touched.objects.filter(holding_id=holding.pk, facts_version__lte=graph.facts_version)
        components = components_of(holding.pk, keys.values_list("key", flat=True).distinct())
        if components is not None and len(components) > MOST:
            components = None
    loaded = load(holding, now, components)
    done = walk(loaded.facts, floor_minute(now))
    return _Work(components, loaded, done, job_windows(holding, loaded, done, now))


def _store(holding: Holding, graph: Graph, work: _Work, now: datetime) -> Walked:
    before = saving.stored(holding.pk, work.components)
    rows = _rows(work)
    remember(rows, before)
    changed = saving.save(holding.pk, rows, before, now)
    told = tell(
        holding=holding,
        loaded=work.loaded,
        rows=rows,
        before=before,
        changed=changed,
        now=now,
        components=work.components,
    )
    version = graph.facts_version
    wake = instant(min(work.walk.wake_at, work.windows.wake_at, told.wake_at))
    if work.components is not None and graph.wake_at is not None and wake is not None:
        wake = min(wake, graph.wake_at)
    Graph.objects.filter(pk=holding.pk).update(walked_version=version, walked_at=now, wake_at=wake)
    Touched.objects.filter(holding_id=holding.pk, facts_version__lte=version).delete()
    ends = {job: (_end(before.get(job)), _end(rows[job])) for job in changed}
    occurrences = keep_occurrences(
        holding=holding,
        ended=[job for job, (earlier, end) in ends.items() if end is not None and end != earlier],
        reopened=[job for job, (earlier, end) in ends.items() if end is None and earlier is not None],
    )
    ended = {job for job, (earlier, end) in ends.items() if end != earlier}
    jobs = [work.loaded.rows[job] for job in sorted(ended | (rows.keys() - before.keys()))]
    durations = learn_durations(holding_id=holding.pk, places={(row.plot, row.operation) for row in jobs})
    return Walked(len(rows), tuple(changed), told.written, told.withdrawn, occurrences, durations)


def _end(row: saving.Row | None) -> tuple[str, datetime | None] | None:
    """How and when a job ended, if it did."""
    return (row["state"], row["finished_at"]) if row is not None and row["state"] in ENDED else None


def _rows(work: _Work) -> dict[int, Any]:
    loaded = work.loaded
    return {
        job: row_of(
            result,
            loaded.facts,
            loaded.folded[job],
            loaded.closed_branches.get(loaded.rows[job].branch or 0),
            work.windows.by_job.get(job),
        )
        for job, result in work.walk.results.items()
    }
