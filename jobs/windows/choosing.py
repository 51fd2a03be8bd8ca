"""Which limits bind one job: those of its operation and of its step, less what somebody set aside. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
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
    Rule,
    Settled,
    Verdict,
    WhereKnown,
)

NIGHTS_H = 48
"""A limit on night lows looks at the nights of so many hours (a setting of ours)."""
SOIL = "soil_temp_f"
CROP, WEEDS = "crop_height_in", "weed_height_in"
STEP_KEYS: Mapping[str, Verdict] = {
    "night_low_f": Verdict.ADVICE,
    "soil_temperature_f": Verdict.ADVICE,
    WEEDS: Verdict.ADVICE,
    CROP: Verdict.WRITTEN_REASON,
}
"""Limits of a step that close hours. A crop past its size is damaged, so its height has to be known."""
ON_THE_SPOT: Mapping[str, str] = {
    "wire_volts": "volts on the wire",
    "deck_height_in": "height of cut, in",
    "break_width_ft": "width of the firebreak, ft",
}
"""Limits of a step that no hour changes; they are looked at there."""
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
        out = [one for one in self.binding if one.key in self.optional and quantity(one) not in known]
        return tuple(one for one in self.binding if one not in out), tuple(out)


@dataclass(frozen=True, slots=True)
class Joined:
    """What joins the general defaults and the step's limits of a job: what its labels put in their place, and what
    plan, machine, plot, person and holding add. Those of `optional` keys bind only where their quantity is known."""

    label: tuple[Limit, ...] = ()
    tighter: tuple[Limit, ...] = ()
    optional: frozenset[str] = frozenset()

    @property
    def limits(self) -> tuple[Limit, ...]:
        return (*self.label, *self.tighter)


NOTHING = Joined()


def chosen(
    operation: str,
    step_limits: Iterable[Mapping[str, Any]],
    defaults: Sequence[Default],
    overruled: Collection[str] = (),
    joined: Joined = NOTHING,
    *,
    decides: bool = True,
) -> Chosen:
    """The limits of a job of an operation whose step sets some of its own; `overruled` are keys of limits.

    Where the weather does not decide over the operation (`decides` False), what heat, cold and thunder say binds the
    hours in which they are known."""
    own = [limit for row in step_limits if (limit := _of_step(operation, row)) is not None]
    general = defaults if decides else [replace(d, limit=_where_known(d.limit)) for d in defaults]
    tighter = [*own, *joined.tighter]
    every = limits_of(operation, general, label=joined.label, tighter=tighter)
    aside = [limit.key for limit in every if limit.key in overruled and limit.verdict is not Verdict.STOP]
    kept = limits_of(operation, general, label=joined.label, tighter=tighter, set_aside=aside)
    optional = {default.limit.key for default in defaults if default.optional or not decides}
    optional |= {limit.key for limit in own if limit.verdict is Verdict.ADVICE}
    optional |= {limit.key for limit in joined.label if isinstance(limit.rule, WhereKnown)} | joined.optional
    return Chosen(
        tuple(limit for limit in kept if not isinstance(limit.rule, RainAhead)),
        tuple(limit for limit in kept if isinstance(limit.rule, RainAhead)),
        frozenset(optional & {limit.key for limit in kept}),
        tuple(aside),
    )


def _where_known(limit: Limit) -> Limit:
    return replace(limit, rule=WhereKnown(limit.rule)) if isinstance(limit.rule, Between) else limit


def on_the_spot(step_limits: Iterable[Mapping[str, Any]]) -> list[str]:
    """What a step asks for that no hour changes, in words."""
    found = []
    for row in step_limits:
        if row["what"] in ON_THE_SPOT:
            bounds = [f"{words} {row[end]:g}" for end, words in (("at_least", "at least"), ("at_most", "at most"))
                      if row.get(end) is not None]  # fmt: skip
            found.append(f"{ON_THE_SPOT[row['what']]}: {' and '.join(bounds)}")
    return found


def _of_step(operation: str, row: Mapping[str, Any]) -> Limit | None:
    """A step's limit that speaks of hours or of what grows; the others (volts, widths) are looked at on the spot."""
    what, least, most, source = row["what"], row.get("at_least"), row.get("at_most"), row.get("source", "")
    if what in (CROP, WEEDS):
        low, high = float("-inf") if least is None else least, float("inf") if most is None else most
        if what == CROP:
            return _limit(what, "height of the crop", "in", 2, Between(CROP, low, high), source)
        return _limit(what, "height of the weeds", "in", 1, WhereKnown(Between(WEEDS, low, high)), source)
    if least is None:
        return None
    if what == "night_low_f":
        return _limit(what, "low of the nights ahead", "F", 5, Lowest("temp_f", NIGHTS_H, least), source)
    if what == "soil_temperature_f":
        return _limit(what, "soil temperature at planting depth", "F", 5, WhereKnown(Between(SOIL, least)), source)
    if what == "rain_after_in":
        hours = MOVED_IN_H.get(operation, RAIN_H)
        return _limit(what, "rain after the work", "in", 0.25, RainAhead(hours, least), source)
    return None


def _limit(key: str, what: str, unit: str, scale: float, rule: Rule, source: str) -> Limit:
    return Limit(key, what, unit, float(scale), rule, source, Rank.PLOT, STEP_KEYS.get(key, Verdict.ADVICE))


def quantity(limit: Limit) -> str:
    """The column that a limit reads; "" where it reads none."""
    if isinstance(limit.rule, DryAhead | DryBefore | RainAhead):
        return RAIN_MOST
    rule = limit.rule.band if isinstance(limit.rule, WhereKnown) else limit.rule
    return "" if isinstance(rule, Settled) else str(rule.quantity)  # type: ignore[attr-defined]
