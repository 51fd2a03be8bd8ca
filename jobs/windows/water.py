"""Rivers: by hour the highest that the water can stand at a gauge, when an access closes, and what must be out by when.

Stages are feet on one gauge. A reading is good for three hours and no longer; a forecast counts only as the
continuation of a good reading. Between two known stages the water is taken to stand as high as the higher of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from jobs.hours import Stretch
from jobs.windows.finding import runs
from jobs.windows.hours import HOUR, Floats, Hours
from jobs.windows.limits import Between, Limit, Rank, Receded, Verdict

STAGE = "stage_ft"
ACCESS = "access_level_ft"
"""Never given: the limit of a place whose level nobody has set is not known."""
GOOD_FOR = 180
"""Minutes for which a reading stands (gauges tell every 15 to 60 minutes)."""
APART = 12 * 60
"""Stages to come are given every 6 hours; with a wider gap nothing is known between, unless the crest ends it."""


@dataclass(frozen=True, slots=True)
class Stage:
    """Feet at a minute since 1970-01-01 UTC."""

    at: int
    feet: float


@dataclass(frozen=True, slots=True)
class Gate:
    """At which stage the access of a place closes, and how far below for how long the river has to stand after that.

    `level_ft` None: nobody has set one. `by_action`: the level is the gauge's action stage, for want of an own one."""

    level_ft: float | None
    margin_ft: float
    hours_down: int
    by_action: bool = False


def access_limit(gate: Gate) -> Limit:
    """The limit that the river sets to all work at a place; without a level it is not known, and so closes.

    What closed the access within the last three days clears only by standing low; older floods are over."""
    if gate.level_ft is None:
        rule: Between | Receded = Between(ACCESS, 0.0)
        what = "the stage at which the access goes under"
    else:
        rule = Receded(STAGE, gate.level_ft, gate.margin_ft, gate.hours_down)
        what = "river stage (action stage of the gauge)" if gate.by_action else "river stage"
    return Limit("river", what, "ft", 1.0, rule, "manager", Rank.PLOT, Verdict.STOP)


def open_access(gate: Gate, hours: Hours, place: int) -> list[Stretch]:
    """The stretches in which the access of a place is open: nothing where its stage or its level is not known."""
    row = {STAGE: hours.of(STAGE)[place : place + 1]}
    held = access_limit(gate).rule.margin(Hours(hours.first, 1, hours.count, row)) >= 0
    _, starts, ends = runs(held)
    return [
        (hours.first + HOUR * int(start), hours.first + HOUR * int(end))
        for start, end in zip(starts, ends, strict=True)
    ]


def known_stages(read: Sequence[Stage], ahead: Sequence[Stage], now: int) -> list[tuple[int, int, float]]:
    """Stretches (from, to, feet), in order, in which the stage is known: at most so many feet.

    `read` and `ahead` are in the order of time. Where the last reading is no longer good at `now`, nothing ahead is."""
    found = [
        (one.at, min(one.at + GOOD_FOR, after.at), max(one.feet, after.feet if _near(one, after) else one.feet))
        for one, after in pairwise(read)
    ]
    if not read:
        return found
    last = read[-1]
    if now - last.at > GOOD_FOR:
        return [*found, (last.at, last.at + GOOD_FOR, last.feet)]
    chain = [last, *(stage for stage in ahead if stage.at > last.at)]
    if len(chain) == 1:
        return [*found, (last.at, last.at + GOOD_FOR, last.feet)]
    crest = max(range(1, len(chain)), key=lambda at: (chain[at].feet, -at))
    for at in range(1, len(chain)):
        one, after = chain[at - 1], chain[at]
        high = max(one.feet, after.feet)
        if after.at - one.at <= APART:
            found.append((one.at, after.at, high))
        elif at <= crest:
            found.append((one.at, after.at, max(high, chain[crest].feet)))
    return found


def _near(one: Stage, after: Stage) -> bool:
    return after.at - one.at <= GOOD_FOR


def stage_hours(first: int, count: int, read: Sequence[Stage], ahead: Sequence[Stage], now: int) -> Floats:
    """By hour the highest known stage; NaN for an hour of which a part is not known."""
    highest = np.full(count, np.nan)
    covered = np.zeros(count, dtype=np.int64)
    for start, end, feet in known_stages(read, ahead, now):
        low, high = max((start - first) // HOUR, 0), min(-((first - end) // HOUR), count)
        for hour in range(low, high):
            begins = first + HOUR * hour
            covered[hour] += min(end, begins + HOUR) - max(start, begins)
            highest[hour] = np.fmax(highest[hour], feet)
    return np.where(covered == HOUR, highest, np.nan)


@dataclass(frozen=True, slots=True)
class Coming:
    """Water that will pass, or has passed, the level of a place. `passes_at` is the earliest it may, `out_by` the
    earliest at which it may come within the margin; both may lie in the past. `told` says that the crest is from a
    forecast, else the water stands there already."""

    passes_at: int
    out_by: int
    crest: Stage
    told: bool


def water_coming(gate: Gate, read: Sequence[Stage], ahead: Sequence[Stage], now: int) -> Coming | None:
    """When the water passes the level by what is forecast; None where it does not, or nothing good is known."""
    if gate.level_ft is None or not read or now - read[-1].at > GOOD_FOR:
        return None
    chain = [read[-1], *(stage for stage in ahead if stage.at > read[-1].at)]
    crest = max(chain, key=lambda stage: (stage.feet, -stage.at))
    if crest.feet < gate.level_ft:
        return None
    passes, out = (_first_at(chain, feet) for feet in (gate.level_ft, gate.level_ft - gate.margin_ft))
    return Coming(passes, out, crest, told=crest is not read[-1])


def _first_at(chain: Sequence[Stage], feet: float) -> int:
    """The earliest minute at which the water may stand so high; between stages far apart it may be at once."""
    if chain[0].feet >= feet:
        return chain[0].at
    for one, after in pairwise(chain):
        if after.feet >= feet:
            if after.at - one.at > APART:
                return one.at
            return one.at + int((after.at - one.at) * (feet - one.feet) / (after.feet - one.feet))
    raise ValueError("The water never stands so high.")


@dataclass(frozen=True, slots=True)
class Standing:
    """A thing that stands where the water comes, and the minutes it takes to bring it out."""

    what: str
    minutes: int
    job: int | None = None


def leave_by(coming: Coming, standing: Sequence[Standing]) -> list[tuple[int, Standing]]:
    """(begin by, thing), the first to begin first."""
    return sorted(
        ((coming.out_by - one.minutes, one) for one in standing), key=lambda row: (row[0], row[1].what, row[1].job or 0)
    )
