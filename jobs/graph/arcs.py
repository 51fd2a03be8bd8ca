"""Arcs as bounds: what one end of a prerequisite demands of the other (D1, D2, D5, D6).

A bound is a tuple (arc, tail, head, a, b, weight, amount, clock): `tail` and `head` are positions in the network, `a`
and `b` the minutes from each job's start to the end that the relation ties. Without a clock the lag is fixed, and
`weight` says all: a minimum is S_head >= S_tail + weight with weight = a + m - b, a maximum S_tail >= S_head + weight
with weight = b - a - M. With a clock the four functions below apply; each is monotone, FAR and NEG saturate.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from typing import Protocol

from jobs.graph.data import FAR, NEG, Curve, DegreeDays, Fixed, Lag, Rain

KNOWN = 2**39
"""Instants lie well inside plus and minus this; beyond it a sum is FAR or NEG."""


class Clock(Protocol):
    """Four lag functions of an amount; `reach` and `latest_anchor` are adjoint, as are `hold` and `earliest_anchor`."""

    def reach(self, anchor: int, hundredths: int) -> int: ...

    def latest_anchor(self, instant: int, hundredths: int) -> int: ...

    def hold(self, anchor: int, hundredths: int) -> int: ...

    def earliest_anchor(self, instant: int, hundredths: int) -> int: ...


Bound = tuple[int, int, int, int, int, int, int, Clock | None]


class RainClock:
    """Starts when the first day after the anchor's with enough observed rain ends, and runs for a fixed part (D5).

    FAR until that rain was seen. The rain still to come is not known: an instant after the last known day bounds no
    anchor before it by more than the fixed part.
    """

    __slots__ = ("curve", "days", "then")

    def __init__(self, curve: Curve, lag: Rain) -> None:
        self.curve = curve
        self.then = lag.then_minutes
        self.days = [
            k
            for k, (value, source) in enumerate(zip(curve.values, curve.sources, strict=True))
            if value >= lag.hundredths and source == "observed"
        ]

    def reach(self, anchor: int, hundredths: int) -> int:
        day = self.curve.day(anchor)
        k = bisect_right(self.days, day) if day is not None else len(self.days)
        return self.curve.day_starts[self.days[k] + 1] + self.then if k < len(self.days) else FAR

    def latest_anchor(self, instant: int, hundredths: int) -> int:
        ends = instant - self.then
        if ends > self.curve.day_starts[-1]:
            return ends
        k = bisect_right(self.days, self.curve.last_ended(ends)) - 1
        return self.curve.day_starts[self.days[k]] - 1 if k >= 0 else NEG

    def hold(self, anchor: int, hundredths: int) -> int:
        return self.reach(anchor, hundredths)

    def earliest_anchor(self, instant: int, hundredths: int) -> int:
        k = bisect_left(self.days, instant, key=lambda day: self.curve.day_starts[day + 1] + self.then) - 1
        return self.curve.day_starts[self.days[k]] if k >= 0 else NEG


class NoClock:
    """A lag on a curve that nobody has: forward it is not within what we know, and it bounds nothing backward."""

    def reach(self, anchor: int, hundredths: int) -> int:
        return FAR

    def latest_anchor(self, instant: int, hundredths: int) -> int:
        return FAR

    def hold(self, anchor: int, hundredths: int) -> int:
        return FAR

    def earliest_anchor(self, instant: int, hundredths: int) -> int:
        return NEG


_NO_CLOCK = NoClock()


def clock_of(lag: Lag, curves: Mapping[int, Curve]) -> tuple[Clock | None, int]:
    """(clock, amount): of a fixed lag no clock and minutes, else what counts it and the amount in hundredths."""
    if isinstance(lag, Fixed):
        return None, lag.minutes
    curve = curves.get(lag.curve)
    if curve is None:
        return _NO_CLOCK, lag.hundredths
    return (curve if isinstance(lag, DegreeDays) else RainClock(curve, lag)), lag.hundredths


def reached(anchor: int, clock: Clock | None, amount: int) -> int:
    """The first instant at which a minimal lag from the anchor has run out."""
    if anchor >= KNOWN:
        return FAR
    if anchor <= -KNOWN:
        return NEG
    return anchor + amount if clock is None else clock.reach(anchor, amount)


def held(anchor: int, clock: Clock | None, amount: int) -> int:
    """The last instant that a maximal lag from the anchor allows."""
    if anchor >= KNOWN or anchor <= -KNOWN:
        return FAR
    return anchor + amount if clock is None else clock.hold(anchor, amount)


def saturated(instant: int) -> int:
    """The instant, or FAR or NEG where it lies beyond what instants can be."""
    if instant >= KNOWN:
        return FAR
    return NEG if instant <= -KNOWN else instant


def head_not_before(bound: Bound, start: int) -> int:
    """Minimum, forward: the least start of the head when the tail starts at `start`."""
    _, _, _, a, b, weight, amount, clock = bound
    if clock is None:
        return saturated(start + weight)
    return saturated(reached(saturated(start + a), clock, amount) - b)


def tail_not_after(bound: Bound, start: int) -> int:
    """Minimum, backward: the greatest start of the tail when the head starts at `start` at the latest."""
    _, _, _, a, b, weight, amount, clock = bound
    if clock is None:
        return saturated(start - weight)
    end = saturated(start + b)
    if end in (FAR, NEG):
        return end
    return saturated(clock.latest_anchor(end, amount) - a)


def tail_not_before(bound: Bound, start: int) -> int:
    """Maximum, forward: the least start of the tail when the head starts at `start`; nothing follows from FAR (D2)."""
    _, _, _, a, b, weight, amount, clock = bound
    if start >= KNOWN or start <= -KNOWN:
        return NEG
    if clock is None:
        return saturated(start + weight)
    return saturated(clock.earliest_anchor(start + b, amount) - a)


def head_not_after(bound: Bound, start: int) -> int:
    """Maximum, backward: the greatest start of the head when the tail starts at `start` at the latest; nothing
    follows from FAR or NEG (D2)."""
    _, _, _, a, b, weight, amount, clock = bound
    if start >= KNOWN or start <= -KNOWN:
        return FAR
    if clock is None:
        return saturated(start - weight)
    return saturated(held(start + a, clock, amount) - b)
