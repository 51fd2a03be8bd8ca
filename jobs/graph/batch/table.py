"""Columns as arrays, and what facts make of every arc (D1, D5, D6, D7): the whole-holding form of `Network`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from jobs.graph.batch.columns import ARC_COLUMNS, FEW, FIXED, JOB_COLUMNS, NO_LAG, RELATIONS, Columns
from jobs.graph.batch.lags import Curves, Ints, saturate
from jobs.graph.batch.passes import Bools, Bounds
from jobs.graph.data import FAR, NEG
from jobs.graph.network import FROM_FINISH, TO_FINISH, Role

_FROM_FINISH = np.array([relation in FROM_FINISH for relation in RELATIONS])
_TO_FINISH = np.array([relation in TO_FINISH for relation in RELATIONS])

DEEPEST = 1_000
"""Levels beyond this belong to a circle, or to a chain so long that levels do not pay."""


@dataclass(slots=True)
class Floors:
    """Bounds on the head that no longer depend on the tail, arcs by place."""

    arc: Ints
    head: Ints
    instant: Ints


class Table:
    """Arrays by place of the job or arc; `tail` and `head` are places of jobs. See `Network` for what they mean.

    `alone` marks jobs whose component the batch leaves to be reckoned by itself."""

    def __init__(self, columns: Columns) -> None:
        jobs, arcs, few = (
            {name: _array(getattr(columns, name)) for name in names} for names in (JOB_COLUMNS, ARC_COLUMNS, FEW)
        )
        self.today = today = columns.today
        self.job, self.season, self.role = (jobs[name] for name in ("job", "season", "role"))
        self.branched, self.branch = few["branched"], few["branch"]
        for name in ("start_early", "start_late", "finish_early", "finish_late"):
            jobs[name] = _spread(few["standing"], few[name], len(self.job), 0)
        arcs["confirmed_at"] = _spread(few["confirmed"], few["confirmed_at"], len(arcs["arc"]), FAR)
        self.component = _numbered(jobs["component"])
        self.count = count = len(self.job)
        self.arc = arcs["arc"]
        self.tail, self.head = _places(self.job, arcs["tail"]), _places(self.job, arcs["head"])
        self.curves = columns.curves if isinstance(columns.curves, Curves) else Curves(columns.curves)
        open_, relay, under_way = (self.role == role for role in (Role.OPEN, Role.RELAY, Role.UNDER_WAY))
        self.moves = self.role <= Role.RELAY
        start_late, finish_late = jobs["start_late"], jobs["finish_late"]
        self.finish = finish_late
        self.duration = np.where(open_, jobs["duration"], np.where(relay, 0, finish_late - start_late))
        self.deadline = np.where((open_ | under_way) & (jobs["deadline"] < FAR), jobs["deadline"] - self.duration, FAR)
        first, to = jobs["first"], jobs["last"]
        last = np.where(to >= FAR, FAR, to - np.maximum(jobs["duration"], 1))
        fits = first <= last
        self.first = np.where(open_, np.where(fits, first, FAR), NEG)
        self.last = np.where(open_, np.where(fits, last, NEG), FAR)
        self.low = np.where(open_, np.maximum(today, self.first), np.where(relay, NEG, start_late))
        self.top = np.where(open_, np.minimum(self.deadline, self.last), np.where(relay, FAR, start_late))
        self._arcs(jobs, arcs)
        self.alone = np.zeros(count, bool)
        self.alone[few["alone"]] = True
        self._levels()

    def _arcs(self, jobs: dict[str, Ints], arcs: dict[str, Ints]) -> None:
        tail, head = self.tail, self.head
        role, head_role = self.role[tail], self.role[head]
        from_finish, to_finish = _FROM_FINISH[arcs["relation"]], _TO_FINISH[arcs["relation"]]
        a = np.where(from_finish, self.duration[tail], 0)
        b = np.where(to_finish, self.duration[head], 0)
        handed = (role == Role.RELAY) | (role == Role.SATISFIED)
        kind, low = arcs["minimum"], np.where(handed, 0, arcs["minimum_amount"])
        kind = np.where(handed & (kind != NO_LAG), FIXED, kind)
        longest = (arcs["maximum"] < FAR) & ~handed & (head_role != Role.RELAY)
        high, seen = arcs["maximum"], np.where(handed, FAR, arcs["confirmed_at"])
        moving = head_role < Role.UNDER_WAY
        confirmed = moving & (seen < FAR)
        shortest = moving & (seen >= FAR) & (kind >= FIXED)
        movable = self.moves[tail]

        def fixed(which: Bools, weight: Ints) -> Bounds:
            arc = np.flatnonzero(which)
            return Bounds.fixed(arc, tail[arc], head[arc], weight[arc])

        def curved(which: Bools) -> Bounds:
            arc = np.flatnonzero(which)
            curve = np.maximum(kind[arc], 0)
            return Bounds(arc, tail[arc], head[arc], weight[arc], a[arc], b[arc], low[arc], curve)

        weight = a + low - b
        minimal, counted = shortest & movable, kind > FIXED
        self.fixed, self.curved = fixed(minimal & ~counted, weight), curved(minimal & counted)
        self.trailing = curved(shortest & (role == Role.UNDER_WAY))
        self.maximal = fixed(longest & movable & moving, b - a - high)
        arc = np.flatnonzero(confirmed | shortest & ~movable)
        late = _reported(jobs, "late", tail[arc], from_finish[arc])
        floor = np.where(confirmed[arc], seen[arc], self._reached(kind[arc], late, low[arc]))
        self.floors = Floors(arc, head[arc], saturate(floor - b[arc]))
        # An instant never lies beyond KNOWN where a job stands.
        arc = np.flatnonzero(longest & moving & ~movable)
        early = _reported(jobs, "early", tail[arc], from_finish[arc])
        self.ceilings = Floors(arc, head[arc], saturate(early + high[arc] - b[arc]))
        self.out_of_order = self._compare(jobs, arcs, from_finish, to_finish)

    def _reached(self, kind: Ints, anchor: Ints, amount: Ints) -> Ints:
        reached = anchor + amount
        curved = np.flatnonzero(kind > FIXED)
        if len(curved):
            reached[curved] = self.curves.reach(kind[curved], anchor[curved], amount[curved])
        return reached

    def _compare(
        self, jobs: dict[str, Ints], arcs: dict[str, Ints], from_finish: Bools, to_finish: Bools
    ) -> dict[int, list[int]]:
        """Ids of the arcs between two reported jobs that were not kept, by place of the head (D7)."""
        reported = (self.role == Role.UNDER_WAY) | (self.role == Role.DONE)
        here = np.flatnonzero(reported[self.tail] & reported[self.head])
        tail, head = self.tail[here], self.head[here]
        from_finish, to_finish = from_finish[here], to_finish[here]
        early, late = (_reported(jobs, which, tail, from_finish) for which in ("early", "late"))
        end_early, end_late = (_reported(jobs, which, head, to_finish) for which in ("early", "late"))
        kind, seen = arcs["minimum"][here], arcs["confirmed_at"][here]
        due = np.where(
            seen < FAR,
            seen,
            np.where(kind == NO_LAG, NEG, self._reached(kind, late, arcs["minimum_amount"][here])),
        )
        soon = ~(to_finish & (self.role[head] == Role.UNDER_WAY)) & (end_late < due)
        behind = end_early > early + arcs["maximum"][here]
        found: dict[int, list[int]] = {}
        for place in here[soon | behind].tolist():
            found.setdefault(int(self.head[place]), []).append(int(self.arc[place]))
        return found

    def _levels(self) -> None:
        """Level of each job along minimal lags, 1 for those that nothing bounds and 0 for those that stand."""
        self.level = level = self.moves.astype(np.int64)
        tails, heads = (
            np.concatenate([getattr(bounds, end) for bounds in (self.fixed, self.curved)]) for end in ("tail", "head")
        )
        for reached in range(1, DEEPEST):
            if not len(heads):
                return
            level[heads] = reached + 1
            longer = level[tails] > reached
            tails, heads = tails[longer], heads[longer]
        self.alone[heads] = True


def _reported(jobs: dict[str, Ints], which: str, job: Ints, finish: Bools) -> Ints:
    """The `which` ("early" or "late") instant of each job's finish where that is asked, else of its start."""
    return np.where(finish, jobs[f"finish_{which}"][job], jobs[f"start_{which}"][job])


def _places(ids: Ints, wanted: Ints) -> Ints:
    """Places of ids in a sorted list of them; a table is quicker where the ids lie close together."""
    if not len(ids):
        return wanted
    low = int(ids[0])
    width = int(ids[-1]) - low + 1
    if width > 8 * len(ids) + 1_000:
        return np.searchsorted(ids, wanted)
    place = np.zeros(width, np.int64)
    place[ids - low] = np.arange(len(ids))
    return place[wanted - low]


def _array(column: Sequence[int]) -> Ints:
    return column if isinstance(column, np.ndarray) else np.fromiter(column, np.int64, len(column))


def _spread(places: Ints, values: Ints, count: int, otherwise: int) -> Ints:
    column = np.full(count, otherwise)
    column[places] = values
    return column


def _numbered(labels: Ints) -> Ints:
    """The same labels as numbers from 0 without gaps; a table is quicker where they lie close together."""
    low = int(labels.min(initial=FAR))
    width = int(labels.max(initial=0)) - low + 1
    if width > 8 * len(labels) + 1_000:
        return np.unique(labels, return_inverse=True)[1].astype(np.int64)
    used = np.zeros(max(width, 0), np.int64)
    used[labels - low] = 1
    number: Ints = np.cumsum(used) - 1
    return number[labels - low]
