"""Earliest and latest starts of one copy of a component, with the reason of each (D8, D9, D12, D14)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from jobs.graph.allowed import down
from jobs.graph.arcs import Bound, head_not_after, head_not_before, tail_not_after, tail_not_before
from jobs.graph.data import Why
from jobs.graph.fixpoint import Curved, Pass, Pull, Step
from jobs.graph.network import Floor, Network, Role
from jobs.graph.reasons import inside, reasons_of_earliest, reasons_of_latest

AnyBound = TypeVar("AnyBound", Bound, Floor)


@dataclass(slots=True)
class Copy:
    """What one copy has of a network: its jobs, and the bounds whose both ends it has. `active` is by position."""

    net: Network
    active: Sequence[bool]
    order: list[int]
    minimal: list[Bound]
    maximal: list[Bound]
    trailing: list[Bound]
    floors: list[Floor]
    ceilings: list[Floor]

    def forward(self) -> Pass:
        """The pass that finds earliest starts."""
        net = self.net
        low = list(net.low)
        for _, _, head, floor in self.floors:
            if floor > low[head]:
                low[head] = floor
        steps: list[list[Step]] = [[] for _ in low]
        curved: list[list[Curved] | None] = [None] * len(low)
        for bound in self.minimal:
            _, tail, head, _, _, weight, _, clock = bound
            if clock is None:
                steps[head].append((tail, weight))
            else:
                curved[head] = [*(curved[head] or ()), (tail, partial(head_not_before, bound))]
        pulls: list[Pull] = []
        for bound in self.maximal:
            _, tail, head, _, _, weight, _, clock = bound
            pulls.append((head, tail, weight, None if clock is None else partial(tail_not_before, bound)))
        return Pass(self.order, low, net.last, net.several, steps, curved, pulls, net.today)

    def backward(self, without: Sequence[set[int]]) -> Pass:
        """The pass that finds latest starts, on negated instants, without the maximal lags inside those parts."""
        net = self.net
        low = [-top for top in net.top]
        for _, _, head, ceiling in self.ceilings:
            if -ceiling > low[head]:
                low[head] = -ceiling
        steps: list[list[Step]] = [[] for _ in low]
        curved: list[list[Curved] | None] = [None] * len(low)
        for bound in self.minimal:
            _, tail, head, _, _, weight, _, clock = bound
            if clock is None:
                steps[tail].append((head, weight))
            else:
                curved[tail] = [*(curved[tail] or ()), (head, _negated(partial(tail_not_after, bound)))]
        pulls: list[Pull] = []
        for bound in self.maximal:
            _, tail, head, _, _, weight, _, clock = bound
            if not inside(without, tail, head):
                function = None if clock is None else _negated(partial(head_not_after, bound))
                pulls.append((tail, head, weight, function))
        last = [-first for first in net.first]
        several = [
            None if fit is None else _negated(partial(down, starts))
            for fit, starts in zip(net.several, net.starts, strict=True)
        ]
        return Pass(self.order[::-1], low, last, several, steps, curved, pulls, -net.today)

    def show_lateness(self, ls: list[int]) -> None:
        """Give jobs under way the latest start that their deadline and successors would ask if they could move (D7)."""
        net = self.net
        for v, role in enumerate(net.role):
            if role is Role.UNDER_WAY:
                ls[v] = net.deadline[v]
        for bound in self.trailing:
            ls[bound[1]] = min(ls[bound[1]], tail_not_after(bound, ls[bound[2]]))


def copy_of(net: Network, active: Sequence[bool] | None = None) -> Copy:
    """The copy of the jobs that are `active` (all, if None)."""
    if active is None:
        everything = [True] * len(net.ids)
        return Copy(net, everything, net.order, net.minimal, net.maximal, net.trailing, net.floors, net.ceilings)
    return Copy(
        net,
        active,
        [v for v in net.order if active[v]],
        _within(active, net.minimal),
        _within(active, net.maximal),
        _within(active, net.trailing),
        _within(active, net.floors),
        _within(active, net.ceilings),
    )


def _within(active: Sequence[bool], bounds: Sequence[AnyBound]) -> list[AnyBound]:
    return [bound for bound in bounds if active[bound[1]] and active[bound[2]]]


@dataclass(slots=True)
class Solution:
    """One copy by position: starts, their reasons, and the jobs whose own maximal lags contradict (D14).

    Only the positions of the copy's own jobs mean anything."""

    active: Sequence[bool]
    es: list[int]
    ls: list[int]
    why_es: list[Why]
    why_ls: list[Why]
    contradictory: set[int]


def solve(copy: Copy) -> Solution:
    """Earliest starts as the least, latest as the greatest instants that meet all bounds (D8, D9)."""
    forward = copy.forward()
    forward.run()
    backward = copy.backward(forward.set_aside)
    backward.run()
    es, ls = forward.found, [-instant for instant in backward.found]
    copy.show_lateness(ls)
    why_es = reasons_of_earliest(copy, es, forward.set_aside)
    why_ls = reasons_of_latest(copy, ls, [*forward.set_aside, *backward.set_aside])
    return Solution(copy.active, es, ls, why_es, why_ls, set().union(*forward.set_aside))


def _negated(function: Callable[[int], int]) -> Callable[[int], int]:
    return lambda instant: -function(-instant)
