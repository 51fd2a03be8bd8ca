"""Limits: for every hour the distance to the bound, in the limit's unit; 0 or more holds, NaN is not known.

A rule looks at one quantity, at that hour or at hours around it. It never guesses: where one hour that it needs is
missing, its answer is missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np

from jobs.windows.hours import RAIN_BAND, RAIN_BEGUN, RAIN_ENDED, RAIN_MOST, Floats, Hours


class Rule(Protocol):
    """How far an hour is from a bound."""

    def margin(self, hours: Hours) -> Floats:
        """Shape (places, hours)."""
        ...


@dataclass(frozen=True, slots=True)
class Between:
    """A quantity lies from `least` to `most`, both included."""

    quantity: str
    least: float = -np.inf
    most: float = np.inf

    def margin(self, hours: Hours) -> Floats:
        value = hours.of(self.quantity)
        if np.isinf(self.most):
            return value - self.least
        if np.isinf(self.least):
            return self.most - value
        return np.minimum(value - self.least, self.most - value)


@dataclass(frozen=True, slots=True)
class Lowest:
    """The lowest of a quantity over so many hours from this one on is at least so much (cold nights to come)."""

    quantity: str
    hours_ahead: int
    least: float

    def margin(self, hours: Hours) -> Floats:
        return ahead(hours.of(self.quantity), self.hours_ahead, np.minimum) - self.least


@dataclass(frozen=True, slots=True)
class Highest:
    """The highest of a quantity over so many hours from this one on is at most so much (a river, a hot spell)."""

    quantity: str
    hours_ahead: int
    most: float

    def margin(self, hours: Hours) -> Floats:
        return self.most - ahead(hours.of(self.quantity), self.hours_ahead, np.maximum)


@dataclass(frozen=True, slots=True)
class DryAhead:
    """At most so much rain can fall in any one hour: in this one, or in the `hours_ahead` whole hours after it.

    Work that ends with this hour still has all of them before it. A total over six hours may fall in any of them, so it
    counts whole in each."""

    hours_ahead: int
    most_in: float

    def margin(self, hours: Hours) -> Floats:
        return self.most_in - ahead(hours.of(RAIN_MOST), self.hours_ahead + 1, np.maximum)


@dataclass(frozen=True, slots=True)
class RainAhead:
    """So much rain is sure to come in the hours after this one: only totals that begin and end among them count."""

    hours_ahead: int
    least_in: float

    def margin(self, hours: Hours) -> Floats:
        begun, ended, band = hours.of(RAIN_BEGUN), hours.of(RAIN_ENDED), hours.of(RAIN_BAND)
        found = np.full((hours.places, hours.count), np.nan)
        here = hours.count - self.hours_ahead
        if here > 0:
            # Differences of long sums: without rounding, a quarter of an inch would fall short of a quarter.
            sure = np.round(np.maximum(ended[:, self.hours_ahead :] - begun[:, 1 : here + 1], 0.0), 9)
            known = band[:, self.hours_ahead :] == band[:, 1 : here + 1]
            np.subtract(sure, self.least_in, out=found[:, :here], where=known)
        return found


@dataclass(frozen=True, slots=True)
class DryBefore:
    """So many hours have passed since an hour in which more than `rain_in` may have fallen; margin in hours.

    Where it never rained among the hours known before, the known ones count, and with them the `dry_first` hours right
    before the first, which somebody knows to have been dry. `unless` names a quantity that goes before it where it is
    1: somebody has looked."""

    hours_before: int
    rain_in: float = 0.0
    unless: str = ""
    dry_first: int = 0

    def margin(self, hours: Hours) -> Floats:
        rain = hours.of(RAIN_MOST)
        at = np.arange(hours.count, dtype=np.int32)
        # The last hour that counts, twice over, and one more if it was wet and not a gap; -2 while there is none.
        code = np.where(rain > self.rain_in, 2 * at + 1, np.where(np.isnan(rain), 2 * at, np.int32(-2)))
        code = np.maximum.accumulate(code, axis=1)
        since = at - (code >> 1) - 1
        if self.dry_first:
            since = np.where(code == -2, since + self.dry_first, since)
        known = (since >= self.hours_before) | (code & 1).astype(bool)
        margin = np.where(known, since - float(self.hours_before), np.nan)
        return np.where(hours.of(self.unless) == 1, np.fmax(margin, 1.0), margin) if self.unless else margin


@dataclass(frozen=True, slots=True)
class Fit:
    """Closed where a quantity says so (0 not fit, 1 fit); where it says nothing, the other limits decide."""

    quantity: str

    def margin(self, hours: Hours) -> Floats:
        value = hours.of(self.quantity)
        return np.where(value < 1, -1.0, 1.0)


@dataclass(frozen=True, slots=True)
class WhereKnown:
    """A band that binds the hours in which its quantity is known; of the others it says nothing, and they are told."""

    band: Between

    def margin(self, hours: Hours) -> Floats:
        found = self.band.margin(hours)
        return np.where(np.isnan(found), np.inf, found)


@dataclass(frozen=True, slots=True)
class Settled:
    """Something that no hour changes, such as the nozzles of a sprayer: one distance, None where it is not known."""

    distance: float | None

    def margin(self, hours: Hours) -> Floats:
        return np.full((hours.places, hours.count), np.nan if self.distance is None else self.distance)


@dataclass(frozen=True, slots=True)
class Away:
    """The wind carries nothing towards these bearings: its heading stays so many degrees off each.

    The quantity is the direction the wind comes from; bearings are those from the work to what must be spared."""

    bearings: Sequence[float]
    degrees_off: float
    quantity: str = "wind_dir_deg"

    def margin(self, hours: Hours) -> Floats:
        from_deg = hours.of(self.quantity)
        off = 180.0 + 0.0 * from_deg
        for bearing in self.bearings:
            off = np.minimum(off, apart(from_deg - (bearing + 180.0) % 360.0))
        return off - self.degrees_off


@dataclass(frozen=True, slots=True)
class Steady:
    """The wind's direction stays within so many degrees of this hour's over the hours to come (no shift ahead)."""

    hours_ahead: int
    degrees: float
    quantity: str = "wind_dir_deg"

    def margin(self, hours: Hours) -> Floats:
        value = hours.of(self.quantity)
        found = np.full_like(value, np.nan)
        here = hours.count - self.hours_ahead
        if here > 0:
            # A turn of d degrees is 180 - ||d| - 180| on the circle: the widest turn has the least inner figure.
            least, step = np.full((hours.places, here), 180.0), np.empty((hours.places, here))
            for later in range(1, self.hours_ahead + 1):
                np.subtract(value[:, later : later + here], value[:, :here], out=step)
                np.abs(step, out=step)
                step -= 180.0
                np.abs(step, out=step)
                np.minimum(least, step, out=least)
            np.add(least, self.degrees - 180.0, out=found[:, :here])
        return found


@dataclass(frozen=True, slots=True)
class Receded:
    """A level (a river's stage) stays below a bound, and after each hour above it clears only when it has stood below
    the bound less `drop` for `hours_clear` hours on end: so an access does not open and close with every ripple."""

    quantity: str
    most: float
    drop: float
    hours_clear: int

    def __post_init__(self) -> None:
        if self.drop <= 0:
            raise ValueError("A level clears by a drop above 0.")

    def margin(self, hours: Hours) -> Floats:
        level = hours.of(self.quantity)
        at = np.arange(hours.count)
        over = np.maximum.accumulate(np.where(level >= self.most, at, -1), axis=1)
        not_low = np.maximum.accumulate(np.where(level < self.most - self.drop, -1, at), axis=1)
        # Flooded once, it is clear from the first hour on that ends a stretch of low ones long enough.
        run = at - not_low
        cleared = np.maximum.accumulate(np.where(run >= self.hours_clear, at, -1), axis=1)
        clear = (over < 0) | (cleared > over)
        below = self.most - level
        return np.where(clear, below, np.where(np.isnan(level), np.nan, np.minimum(below, -self.drop)))


def apart(degrees: Floats) -> Floats:
    """A difference of two directions from 0 to 360 as degrees apart on the circle, 0 to 180."""
    return np.asarray(180.0 - np.abs(np.abs(degrees) - 180.0))


def ahead(values: Floats, count: int, fold: np.ufunc) -> Floats:
    """`fold` (minimum or maximum) over each hour and the `count - 1` after it; NaN where one of them is missing or
    beyond the last hour. Stretches double until two of them cover the count."""
    found = np.full_like(values, np.nan)
    length = values.shape[1] - count + 1
    if count < 1 or length < 1:
        return found
    folded, size = values, 1
    while 2 * size <= count:
        folded = fold(folded[:, :-size], folded[:, size:])
        size *= 2
    found[:, :length] = fold(folded[:, :length], folded[:, count - size : count - size + length])
    return found


class Rank(StrEnum):
    """Who set a bound. The label goes before the general default; the others can only tighten it."""

    DEFAULT = "default"
    LABEL = "label"
    CONTRACT = "contract"
    LAW = "law"
    PLAN = "plan"
    MACHINE = "machine"
    PLOT = "plot"
    PERSON = "person"
    HOLDING = "holding"


class Verdict(StrEnum):
    """What a broken limit means: nobody may; somebody may with a written reason; advice that a tap sets aside."""

    STOP = "stop"
    WRITTEN_REASON = "written reason"
    ADVICE = "advice"


@dataclass(frozen=True, slots=True)
class Limit:
    """A rule with its words. `what` names the quantity for people ("wind"), `scale` is what counts as one step of it,
    so that distances in different units can be compared; `source` is a key of the sources."""

    key: str
    what: str
    unit: str
    scale: float
    rule: Rule
    source: str
    rank: Rank = Rank.DEFAULT
    verdict: Verdict = Verdict.STOP
