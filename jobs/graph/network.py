"""A component as plain lists: what facts make of its jobs, and its arcs as bounds (D1, D5, D6, D7).

Positions run over the jobs in the order of their ids, arcs in the order of theirs, so that equal input in another
order compiles to equal lists (D18). Compiling knows no branches: a copy later takes what it needs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import IntEnum
from functools import partial
from heapq import heappop, heappush

from jobs.graph.allowed import Starts, allowed_starts, up
from jobs.graph.arcs import Bound, clock_of, held, reached, saturated
from jobs.graph.cycles import CycleError, find_cycle, path_between
from jobs.graph.data import FAR, NEG, Arc, Curve, Fixed, Moment, Node, Relation, Skip

FROM_FINISH = frozenset({Relation.FINISH_START, Relation.FINISH_FINISH})
TO_FINISH = frozenset({Relation.FINISH_FINISH, Relation.START_FINISH})


Floor = tuple[int, int, int, int]
"""(arc, tail, head, instant): a bound on the head that no longer depends on the tail."""

OUTCOME = 2**62
"""Stands for an arc's id where a job waits for the check that would open its branch (D11); after all ids."""


class Role(IntEnum):
    """What facts make of a job (D7).

    OPEN moves. DONE, SATISFIED (skipped, and its successors' links are met at that instant) and UNDER_WAY stand where
    they were reported. A RELAY (skipped and passed over, or called off by a person) is a job without length, dates
    and clock that only hands its predecessors' minimal lags on.
    """

    OPEN = 0
    RELAY = 1
    UNDER_WAY = 2
    SATISFIED = 3
    DONE = 4


REPORTED = frozenset({Role.UNDER_WAY, Role.DONE})


def role_of(node: Node) -> Role:
    """Done goes before skipped, skipped before called off, called off before under way."""
    if node.finished is not None:
        return Role.DONE
    if node.skipped is Skip.SATISFIED:
        return Role.SATISFIED
    if node.skipped is Skip.PASSED_OVER or node.called_off:
        return Role.RELAY
    return Role.OPEN if node.started is None else Role.UNDER_WAY


def reported_ends(node: Node, role: Role, today: int) -> tuple[Moment, Moment]:
    """(start, finish) of a job that stands. A job under way finishes no sooner than `today`, and with `rest` so many
    minutes after `today`; a skipped one starts and finishes at `skipped_at`, or at `today` if nobody said when."""
    if role is Role.SATISFIED:
        skipped = Moment.at(today if node.skipped_at is None else node.skipped_at)
        return skipped, skipped
    if node.finished is not None:
        finish, duration = node.finished, node.duration
        return node.started or Moment(finish.early - duration, finish.late - duration), finish
    start = node.started
    if start is None:
        raise ValueError(f"Job {node.id} was not reported.")
    if node.rest is not None:
        return start, Moment(max(start.early, today) + node.rest, max(start.late, today) + node.rest)
    return start, Moment(max(start.early + node.duration, today), max(start.late + node.duration, today))


class Network:
    """Lists by position of the job. For open jobs and relays `low` is the least start of the job by itself, `top` the
    greatest with its deadline; for those that stand both are the start. `first` and `last` frame the allowed starts.

    `minimal` and `maximal` tie jobs that move. `floors` are (arc, tail, head, instant) from tails that stand to heads
    that move, or from an observation; `ceilings` are the same of maximal lags; `trailing` are the minimal bounds
    behind jobs under way, which only show how late these are. `out_of_order` lists by position the violated arcs
    between two facts. Jobs in a branch that only an outcome would call for also wait for the check's finish; those
    bounds come last, with OUTCOME in the place of an arc's id (D11).
    """

    __slots__ = (
        "ceilings", "deadline", "duration", "finish", "first", "floors", "ids", "last", "low", "maximal", "minimal",
        "order", "out_of_order", "position", "role", "several", "starts", "today", "top", "trailing",
    )  # fmt: skip

    def __init__(
        self,
        nodes: Iterable[Node],
        arcs: Iterable[Arc],
        curves: Mapping[int, Curve],
        today: int,
        openings: Iterable[tuple[int, int]] = (),
    ) -> None:
        """`openings` are (check, job) ids of the jobs in a branch that only an outcome of the check would call for.

        Both ends of every arc are among `nodes`. Raises CycleError if minimal lags run in a circle."""
        self.today = today
        nodes = sorted(nodes, key=_id)
        self.ids = [node.id for node in nodes]
        self.position = {job: k for k, job in enumerate(self.ids)}
        count = len(nodes)
        self.role = [role_of(node) for node in nodes]
        self.duration, self.finish, self.deadline = [0] * count, [0] * count, [FAR] * count
        self.low, self.top, self.first, self.last = [NEG] * count, [FAR] * count, [NEG] * count, [FAR] * count
        self.starts: list[Starts] = [()] * count
        self.several: list[Callable[[int], int] | None] = [None] * count
        self.minimal: list[Bound] = []
        self.maximal: list[Bound] = []
        self.trailing: list[Bound] = []
        self.floors: list[Floor] = []
        self.ceilings: list[Floor] = []
        self.out_of_order: dict[int, list[int]] = {}
        ends: list[tuple[Moment, Moment] | None] = [None] * count
        for k, node in enumerate(nodes):
            role = self.role[k]
            if role is Role.OPEN:
                self._open(k, node)
            elif role is not Role.RELAY:
                ends[k] = start, finish = reported_ends(node, role, today)
                self.low[k] = self.top[k] = start.late
                self.finish[k] = finish.late
                self.duration[k] = finish.late - start.late
                if role is Role.UNDER_WAY and node.deadline is not None:
                    self.deadline[k] = node.deadline - self.duration[k]
        for arc in sorted(arcs, key=_id):
            self._arc(arc, curves, ends)
        links = len(self.minimal)
        for check, job in sorted(openings):
            self._opening(self.position[check], self.position[job])
        order = self._topological()
        if order is None and len(self.minimal) > links:
            self._drop_circular_openings(links)
            order = self._topological()
        if order is None:
            raise CycleError(find_cycle((self.ids[bound[1]], self.ids[bound[2]]) for bound in self.minimal) or [])
        self.order = order

    def _open(self, k: int, node: Node) -> None:
        self.duration[k] = node.duration
        if node.deadline is not None:
            self.deadline[k] = node.deadline - node.duration
        self.starts[k] = starts = allowed_starts(node.spans, node.duration)
        if not starts:
            self.first[k], self.last[k] = FAR, NEG
        else:
            self.first[k], self.last[k] = starts[0][0], starts[-1][1]
        if len(starts) > 1:
            self.several[k] = partial(up, starts)
        self.low[k] = max(self.today, self.first[k])
        self.top[k] = min(self.deadline[k], self.last[k])

    def _arc(self, arc: Arc, curves: Mapping[int, Curve], ends: Sequence[tuple[Moment, Moment] | None]) -> None:
        tail, head = self.position[arc.tail], self.position[arc.head]
        role, head_role, stands = self.role[tail], self.role[head], ends[tail]
        from_finish = arc.relation in FROM_FINISH
        a = self.duration[tail] if from_finish else 0
        b = self.duration[head] if arc.relation in TO_FINISH else 0
        minimum, maximum = arc.minimum, arc.maximum
        seen = arc.confirmed_at if arc.confirm else None
        if role is Role.RELAY or role is Role.SATISFIED:
            # What was skipped hands on the instant itself: no wait begins with work that nobody did.
            minimum, maximum, seen = None if minimum is None else Fixed(0), None, None
        if head_role is Role.RELAY:
            maximum = None
        if head_role >= Role.UNDER_WAY:
            # A reported job cannot be moved by what was not reported; between two reports there may be a note.
            head_stands = ends[head]
            if role in REPORTED and head_role in REPORTED and stands is not None and head_stands is not None:
                self._compare(arc, head, stands[from_finish], head_stands, curves)
            return
        if seen is not None:
            self.floors.append((arc.id, tail, head, saturated(seen - b)))
        elif minimum is not None:
            clock, amount = clock_of(minimum, curves)
            bound = (arc.id, tail, head, a, b, a + amount - b, amount, clock)
            if stands is None:
                self.minimal.append(bound)
            else:
                floor = saturated(reached(stands[from_finish].late, clock, amount) - b)
                self.floors.append((arc.id, tail, head, floor))
                if role is Role.UNDER_WAY:
                    self.trailing.append(bound)
        if maximum is not None:
            clock, amount = clock_of(maximum, curves)
            if stands is None:
                self.maximal.append((arc.id, tail, head, a, b, b - a - amount, amount, clock))
            else:
                ceiling = saturated(held(stands[from_finish].early, clock, amount) - b)
                self.ceilings.append((arc.id, tail, head, ceiling))

    def _compare(
        self, arc: Arc, head: int, anchor: Moment, head_ends: tuple[Moment, Moment], curves: Mapping[int, Curve]
    ) -> None:
        """Note an arc between two reported jobs that was not kept (D7). The finish of a job under way is no fact yet:
        it may be past a maximum already, but it is not too soon for a minimum."""
        to_finish = arc.relation in TO_FINISH
        end = head_ends[to_finish]
        early = late = False
        if not (to_finish and self.role[head] is Role.UNDER_WAY):
            if arc.confirm and arc.confirmed_at is not None:
                early = end.late < arc.confirmed_at
            elif arc.minimum is not None:
                early = end.late < reached(anchor.late, *clock_of(arc.minimum, curves))
        if arc.maximum is not None:
            late = end.early > held(anchor.early, *clock_of(arc.maximum, curves))
        if early or late:
            self.out_of_order.setdefault(head, []).append(arc.id)

    def _opening(self, check: int, job: int) -> None:
        if self.role[job] > Role.RELAY:
            return
        bound = (OUTCOME, check, job, self.duration[check], 0, self.duration[check], 0, None)
        if self.role[check] <= Role.RELAY:
            self.minimal.append(bound)
        else:
            self.floors.append((OUTCOME, check, job, self.finish[check]))
            if self.role[check] is Role.UNDER_WAY:
                self.trailing.append(bound)

    def _drop_circular_openings(self, links: int) -> None:
        """A check that waits for the very job it would call for cannot be waited for by that job."""
        openings = self.minimal[links:]
        del self.minimal[links:]
        edges = [(bound[1], bound[2]) for bound in self.minimal]
        for bound in openings:
            if path_between(edges, bound[2], bound[1]) is None:
                edges.append((bound[1], bound[2]))
                self.minimal.append(bound)

    def _topological(self) -> list[int] | None:
        """Positions of the jobs that move, each after the tails of its minimal lags; of several the first goes first.
        None if there is a circle."""
        waits = [0] * len(self.ids)
        heads: list[list[int]] = [[] for _ in self.ids]
        for bound in self.minimal:
            heads[bound[1]].append(bound[2])
            waits[bound[2]] += 1
        moving = [k for k, role in enumerate(self.role) if role <= Role.RELAY]
        ready = [k for k in moving if not waits[k]]
        order = []
        while ready:
            k = heappop(ready)
            order.append(k)
            for head in heads[k]:
                waits[head] -= 1
                if not waits[head]:
                    heappush(ready, head)
        return order if len(order) == len(moving) else None


def _id(thing: Node | Arc) -> int:
    return thing.id
