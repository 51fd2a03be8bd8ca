"""A year of even days for rule tests: day 0 is 1 January 2027 in UTC, `today` is day 90 (1 April)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from jobs.graph import schedule
from jobs.graph.data import FAR, NEG, Arc, Branch, Curve, Dates, Node, Problem, Schedule

DAY = 1440
START = (date(2027, 1, 1) - date(1970, 1, 1)).days * DAY
TODAY = START + 90 * DAY


def at(day: float, minutes: int = 0) -> int:
    """Midnight that opens a day of 2027, counted from 0, and some minutes."""
    return START + round(day * DAY) + minutes


def on(month: int, day: int) -> int:
    """Midnight that opens a date of 2027."""
    return (date(2027, month, day) - date(1970, 1, 1)).days * DAY


def season(first: int = NEG, to: int = FAR) -> tuple[tuple[int, int], ...]:
    return ((first, to),)


def heat(values: Sequence[int], first_day: int = 0) -> Curve:
    """A curve from a day of 2027 on, all of it observed."""
    starts = [at(first_day + k) for k in range(len(values) + 1)]
    return Curve(starts, values, ["observed"] * len(values))


def problem(
    nodes: Sequence[Node], arcs: Sequence[Arc] = (), branches: Sequence[Branch] = (), curve: Curve | None = None
) -> Problem:
    return Problem(TODAY, tuple(nodes), tuple(arcs), tuple(branches), {} if curve is None else {0: curve})


def plan(
    nodes: Sequence[Node], arcs: Sequence[Arc] = (), branches: Sequence[Branch] = (), curve: Curve | None = None
) -> Schedule:
    return schedule(problem(nodes, arcs, branches, curve))


def dates(
    nodes: Sequence[Node], arcs: Sequence[Arc] = (), branches: Sequence[Branch] = (), curve: Curve | None = None
) -> dict[int, Dates]:
    return dict(plan(nodes, arcs, branches, curve).dates)
