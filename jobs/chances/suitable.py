"""Which days of history suit a job: its limits by the hour, as far as a day's high, low and rain can prove them.

A limit is judged at noon. It holds on a day only where the figures of the days it looks at prove it for that hour,
whatever happened when: the high stands for the warmest, the low for the coldest, all rain of a day for its wettest
hour. A limit on anything else (wind, humidity, light) has no answer here and is left out by name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from jobs.chances.history import HIGH, LOW, RAIN, Bools, Floats, History, names_in
from jobs.windows.limits import Between, DryAhead, DryBefore, Highest, Limit, Lowest, Rule

AIR = "temp_f"
NOON = 12
DAY_H = 24


@dataclass(frozen=True, slots=True)
class Days:
    """`holds` by (year, day), `answered` the limits that made it, `left_out` those without an answer in daily data;
    `reads` are the quantities that were looked at."""

    holds: Bools
    answered: tuple[Limit, ...]
    left_out: tuple[Limit, ...]
    reads: tuple[str, ...]


def answers(rule: Rule) -> tuple[str, ...]:
    """The daily quantities that answer a rule; empty where they do not."""
    match rule:
        case Between(quantity=quantity) if quantity == AIR:
            return HIGH, LOW
        case Lowest(quantity=quantity) if quantity == AIR:
            return (LOW,)
        case Highest(quantity=quantity) if quantity == AIR:
            return (HIGH,)
        case DryAhead() | DryBefore():
            return (RAIN,)
        case _:
            return ()


def suitable(limits: Sequence[Limit], weather: History) -> Days:
    """The days on which every limit that daily data answer is proved to hold; a missing figure proves nothing."""
    holds = np.ones((len(weather.years), len(weather.days)), bool)
    answered, left_out, reads = [], [], set()
    for limit in limits:
        names = answers(limit.rule)
        if not names:
            left_out.append(limit)
            continue
        holds &= _proved(limit.rule, weather)
        answered.append(limit)
        reads |= set(names)
    return Days(holds, tuple(answered), tuple(left_out), names_in(reads))


def _proved(rule: Rule, weather: History) -> Bools:
    match rule:
        case Between(least=least, most=most):
            return np.asarray((weather.of(LOW) >= least) & (weather.of(HIGH) <= most))
        case Lowest(hours_ahead=hours, least=least):
            return np.asarray(_over(weather.of(LOW), hours, np.minimum) >= least)
        case Highest(hours_ahead=hours, most=most):
            return np.asarray(_over(weather.of(HIGH), hours, np.maximum) <= most)
        case DryAhead(hours_ahead=hours, most_in=most):
            return np.asarray(_over(weather.of(RAIN), hours + 1, np.maximum) <= most)
        case DryBefore(hours_before=hours, rain_in=most):
            wettest = _over(weather.of(RAIN)[:, ::-1], hours, np.maximum, to_midnight=NOON)[:, ::-1]
            return np.asarray(wettest <= most)
    raise ValueError(f"Daily data do not answer {rule}.")


def _over(values: Floats, hours: int, fold: np.ufunc, *, to_midnight: int = DAY_H - NOON) -> Floats:
    """`fold` over each day and those after it that so many hours from noon on reach into; NaN where one is missing or
    lies beyond the last day."""
    further = max(0, -(-(hours - to_midnight) // DAY_H))
    found = values.copy()
    for step in range(1, further + 1):
        found[:, :-step] = fold(found[:, :-step], values[:, step:])
        found[:, -step:] = np.nan
    return found


def reach_days(limits: Sequence[Limit]) -> int:
    """How many days before and after a day its limits look at, at most: so much wider the history has to be."""
    hours = [getattr(one.rule, "hours_ahead", getattr(one.rule, "hours_before", 0)) for one in limits]
    return 1 + max([0, *hours]) // DAY_H
