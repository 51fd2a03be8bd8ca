"""Windows: runs of time in which every limit holds, long enough for the work, with what ends them on either side.

Limits over hours of weather meet exact stretches of minutes (daylight, quiet days, a season, hours nobody may enter):
a window is the part of both. Nothing here knows a clock; the caller's `not_before` cuts off what is over.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jobs.hours import Stretch, intersect
from jobs.windows.hours import HOUR, Floats, Hours
from jobs.windows.limits import Between, Limit, WhereKnown


@dataclass(frozen=True, slots=True)
class Edge:
    """What ends a window on one side: a limit with its distance just outside (None: nothing is known there), a named
    stretch, "now", or the end of what is known ("horizon"). `low`: a band is broken at its lower end."""

    key: str
    margin: float | None = None
    low: bool = False


@dataclass(frozen=True, slots=True)
class Window:
    """From `starts` to `ends` (exclusive, minutes) all limits hold. `tightest` is the limit that comes closest inside,
    `least` its distance in its own unit; None where only stretches bound the window."""

    starts: int
    ends: int
    opened_by: Edge
    closed_by: Edge
    tightest: str | None
    least: float | None

    @property
    def minutes(self) -> int:
        return self.ends - self.starts


@dataclass(frozen=True, slots=True)
class Held:
    """All that limits say of the hours of many places: distances by limit, and in which hours all of them hold.

    Every array has the shape (places, hours)."""

    limits: tuple[Limit, ...]
    hours: Hours
    margins: tuple[Floats, ...]
    holds: NDArray[np.bool_]


def held(limits: Sequence[Limit], hours: Hours) -> Held:
    """Work the limits out over all places and hours at once. A missing distance holds nothing."""
    found, holds = [], np.ones((hours.places, hours.count), dtype=bool)
    for limit in limits:
        distances = limit.rule.margin(hours)
        holds &= distances >= 0
        found.append(distances)
    return Held(tuple(limits), hours, tuple(found), holds)


def runs(holds: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """(places, first hours, ends) of all runs of True along the hours, ends exclusive, by place and time."""
    edges = np.diff(np.pad(holds, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    places, starts = np.nonzero(edges == 1)
    return places, starts, np.nonzero(edges == -1)[1]


def windows(
    what: Held,
    place: int,
    inside: Mapping[str, Sequence[Stretch]],
    *,
    minutes: int,
    not_before: int,
    can_split: bool = False,
    least_piece: int = 0,
) -> list[Window]:
    """The windows of one place, in order: hours in which all limits hold, inside every named stretch, from
    `not_before` on, each long enough for the work; for work that may be split, for its least piece."""
    needed = (least_piece or minutes) if can_split else minutes
    first = what.hours.first
    _, starts, ends = runs(what.holds[place : place + 1])
    found: list[Stretch] = [
        (first + HOUR * int(start), first + HOUR * int(end)) for start, end in zip(starts, ends, strict=True)
    ]
    for stretches in inside.values():
        found = intersect(found, sorted(stretches))
    cut = [(max(start, not_before), end) for start, end in found if end > not_before]
    return [_window(what, place, inside, start, end, not_before) for start, end in cut if end - start >= max(needed, 1)]


def _window(
    what: Held, place: int, inside: Mapping[str, Sequence[Stretch]], start: int, end: int, not_before: int
) -> Window:
    first = what.hours.first
    low, high = (start - first) // HOUR, -((first - end) // HOUR)
    opened = Edge("now") if start == not_before else _edge(what, place, inside, start, low - 1, opens=True)
    closed = _edge(what, place, inside, end, high, opens=False)
    tightest, least = None, None
    if what.limits:
        worst = np.array([distances[place, low:high].min() for distances in what.margins])
        steps = worst / np.array([limit.scale for limit in what.limits])
        at = int(np.argmin(steps))
        if np.isfinite(worst[at]):
            tightest, least = what.limits[at].key, float(worst[at])
    return Window(start, end, opened, closed, tightest, least)


def _edge(
    what: Held, place: int, inside: Mapping[str, Sequence[Stretch]], at: int, outside: int, *, opens: bool
) -> Edge:
    """What lies beyond an edge: a stretch that ends exactly there, else the worst limit of the hour outside."""
    for name in sorted(inside):
        if any((start if opens else end) == at for start, end in inside[name]):
            return Edge(name)
    if not 0 <= outside < what.hours.count:
        return Edge("horizon")
    key, margin = tightest_at(what, place, outside)
    return Edge(key, margin, is_low(what, place, outside, key))


def is_low(what: Held, place: int, hour: int, key: str) -> bool:
    """Whether an hour lies at the lower end of a band rather than the upper."""
    rule = next(limit.rule for limit in what.limits if limit.key == key)
    rule = rule.band if isinstance(rule, WhereKnown) else rule
    if not isinstance(rule, Between):
        return False
    value = what.hours.of(rule.quantity)[place, hour]
    return bool(value - rule.least < rule.most - value)


def tightest_at(what: Held, place: int, hour: int) -> tuple[str, float | None]:
    """(key, distance) of the limit that binds in an hour: the first that is not known, else the closest in steps.

    `what` has at least one limit."""
    here = np.array([distances[place, hour] for distances in what.margins])
    unknown = np.isnan(here)
    if unknown.any():
        return what.limits[int(np.argmax(unknown))].key, None
    at = int(np.argmin(here / np.array([limit.scale for limit in what.limits])))
    return what.limits[at].key, float(here[at])


def line(what: Held, place: int) -> Iterator[tuple[int, str, float | None]]:
    """By hour (minute, key, distance in steps of its scale) of the tightest limit, for a picture of the week."""
    scales = {limit.key: limit.scale for limit in what.limits}
    for hour in range(what.hours.count):
        key, margin = tightest_at(what, place, hour)
        yield what.hours.first + HOUR * hour, key, None if margin is None else margin / scales[key]


def latest_start(window: Window, minutes: int) -> int:
    """The last minute at which work of so many minutes still ends inside the window."""
    return window.ends - minutes
