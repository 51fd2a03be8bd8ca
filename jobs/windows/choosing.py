"""Which limits bind one job: those of its operation and of its step, less what somebody set aside. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from jobs.windows.catalogue import Default, limits_of
from jobs.windows.hours import RAIN_MOST
from jobs.windows.limits import (
    Between,
    DryAhead,
    DryBefore,
    Limit,
    Lowest,
    RainAhead,
    Rank,
    Verdict,
)

NIGHTS_H = 48
"""A limit on night lows looks at the nights of so many hours (a setting of ours)."""
SOIL = "soil_temp_f"
STEP_KEYS = ("night_low_f", "soil_temperature_f")
"""Limits of a step that close hours; all are advice."""
MOVED_IN_H = {"spread": 48}
RAIN_H = 168
"""Rain that has to follow is looked for over two days after spreading, else over a week (isu-2018-urea,
illinois-1997-05); it is told and closes no hour."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """The limits of one job. `binding` close hours; `told` is advice that is only told; a limit of an `optional` key
    binds where its quantity is known at all; `set_aside` are the keys that somebody overruled."""

    binding: tuple[Limit, ...]
    told: tuple[Limit, ...] = ()
    optional: frozenset[str] = frozenset()
    set_aside: tuple[str, ...] = ()

    @property
    def by_key(self) -> dict[str, Limit]:
        return {limit.key: limit for limit in (*self.binding, *self.told)}

    def split(self, known: Collection[str]) -> tuple[tuple[Limit, ...], tuple[Limit, ...]]:
        """(limits that bind, limits left out) where these quantities are known."""
        out = [one for one in self.binding if one.key in self.optional and _quantity(one) not in known]
        return tuple(one for one in self.binding if one not in out), tuple(out)


def chosen(
    operation: str,
    step_limits: Iterable[Mapping[str, Any]],
    defaults: Sequence[Default],
    overruled: Collection[str] = (),
) -> Chosen:
    """The limits of a job of an operation whose step sets some of its own; `overruled` are keys of limits."""
    own = [limit for row in step_limits if (limit := _of_step(operation, row)) is not None]
    every = limits_of(operation, defaults, tighter=own)
    aside = [limit.key for limit in every if limit.key in overruled and limit.verdict is not Verdict.STOP]
    kept = limits_of(operation, defaults, tighter=own, set_aside=aside)
    optional = {default.limit.key for default in defaults if default.optional}
    optional |= {limit.key for limit in own}
    return Chosen(
        tuple(limit for limit in kept if not isinstance(limit.rule, RainAhead)),
        tuple(limit for limit in kept if isinstance(limit.rule, RainAhead)),
        frozenset(optional),
        tuple(aside),
    )


def _of_step(operation: str, row: Mapping[str, Any]) -> Limit | None:
    """A step's limit that speaks of hours, as advice; the others (heights, volts) are looked at on the spot."""
    what, least, source = row["what"], row.get("at_least"), row.get("source", "")
    if least is None:
        return None
    if what == "night_low_f":
        return _advice(what, "low of the nights ahead", "F", 5, Lowest("temp_f", NIGHTS_H, least), source)
    if what == "soil_temperature_f":
        return _advice(what, "soil temperature at planting depth", "F", 5, Between(SOIL, least), source)
    if what == "rain_after_in":
        hours = MOVED_IN_H.get(operation, RAIN_H)
        return _advice(what, "rain after the work", "in", 0.25, RainAhead(hours, least), source)
    return None


def _advice(key: str, what: str, unit: str, scale: float, rule: Any, source: str) -> Limit:
    return Limit(key, what, unit, float(scale), rule, source, Rank.PLOT, Verdict.ADVICE)


def _quantity(limit: Limit) -> str:
    if isinstance(limit.rule, DryAhead | DryBefore | RainAhead):
        return RAIN_MOST
    return str(limit.rule.quantity)  # type: ignore[attr-defined]
