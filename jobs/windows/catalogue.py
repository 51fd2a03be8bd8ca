"""Limits from tables of reference data, and how label, plan and the rest join the general default."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from jobs.windows.limits import (
    Between,
    DryAhead,
    DryBefore,
    Fit,
    Highest,
    Limit,
    Lowest,
    RainAhead,
    Rank,
    Rule,
    Steady,
    Verdict,
)

ANY = "*"
_FIELDS = {"operations", "what", "unit", "scale", "verdict", "source", "note", "optional"}
_RULES: Mapping[str, tuple[frozenset[str], frozenset[str]]] = {
    "between": (frozenset(), frozenset({"least", "most"})),
    "lowest": (frozenset({"hours", "least"}), frozenset()),
    "highest": (frozenset({"hours", "most"}), frozenset()),
    "dry_ahead": (frozenset({"hours", "most_in"}), frozenset()),
    "rain_ahead": (frozenset({"hours", "least_in"}), frozenset()),
    "dry_before": (frozenset({"hours", "rain_in"}), frozenset()),
    "steady": (frozenset({"hours", "degrees"}), frozenset()),
    "fit": (frozenset(), frozenset()),
}
"""By the word that names a rule: figures it needs, and figures of which it needs at least one."""
_MAY: Mapping[str, frozenset[str]] = {"dry_before": frozenset({"unless"})}
"""What a rule may say beside its figures."""


@dataclass(frozen=True, slots=True)
class Default:
    """A general default: its limit, the operations it binds ("*" all), and whether it binds only where it is known."""

    limit: Limit
    operations: frozenset[str]
    optional: bool
    note: str


def read_limits(text: str, *, sources: Collection[str], operations: Collection[str]) -> tuple[Default, ...]:
    """The defaults of a TOML text, in its order.

    Raises:
        ValueError: a table breaks the form, or names an operation or source that is not known; the first is named.
    """
    return tuple(_default(key, row, sources, operations) for key, row in tomllib.loads(text).items())


def _default(key: str, row: Mapping[str, Any], sources: Collection[str], operations: Collection[str]) -> Default:
    words = [word for word in _RULES if word in row]
    if len(words) != 1:
        raise ValueError(f"Limit {key} names {len(words)} rules; give one of: {', '.join(_RULES)}.")
    needs, some = _RULES[words[0]]
    extra = row.keys() - _FIELDS - {words[0]} - needs - some - _MAY.get(words[0], frozenset())
    lacks = (needs | {"operations", "what", "unit", "scale", "verdict", "source"}) - row.keys()
    if extra or lacks or (some and not some & row.keys()):
        raise ValueError(f"Limit {key} lacks {sorted(lacks) or sorted(some)} or has more than it may: {sorted(extra)}.")
    unknown = set(row["operations"]) - set(operations) - {ANY}
    if unknown or row["source"] not in sources:
        raise ValueError(f"Limit {key} names what is not known: {sorted(unknown) or row['source']}.")
    if row["scale"] <= 0:
        raise ValueError(f"Limit {key} has a step of 0 or less.")
    limit = Limit(
        key, row["what"], row["unit"], float(row["scale"]), _rule(words[0], row), row["source"],
        Rank.DEFAULT, Verdict(row["verdict"]),
    )  # fmt: skip
    return Default(limit, frozenset(row["operations"]), bool(row.get("optional")), row.get("note", ""))


def _rule(word: str, row: Mapping[str, Any]) -> Rule:
    match word:
        case "between":
            return Between(row[word], float(row.get("least", "-inf")), float(row.get("most", "inf")))
        case "lowest":
            return Lowest(row[word], row["hours"], row["least"])
        case "highest":
            return Highest(row[word], row["hours"], row["most"])
        case "dry_ahead":
            return DryAhead(row["hours"], row["most_in"])
        case "rain_ahead":
            return RainAhead(row["hours"], row["least_in"])
        case "dry_before":
            return DryBefore(row["hours"], row["rain_in"], row.get("unless", ""))
        case "fit":
            return Fit(row[word])
        case _:
            return Steady(row["hours"], row["degrees"], row[word])


def limits_of(
    operation: str,
    defaults: Iterable[Default],
    *,
    label: Sequence[Limit] = (),
    tighter: Sequence[Limit] = (),
    set_aside: Collection[str] = (),
) -> list[Limit]:
    """The limits of one operation: defaults, those of the label in the place of a default or a step's limit of the same
    key, and all that others add. Since every limit must hold, what is added can only tighten.

    `set_aside` are keys that somebody overruled, advice by a tap, others by a written reason; a stop stays."""
    replaced = {limit.key for limit in label}
    mine = [d.limit for d in defaults if d.operations & {operation, ANY} and d.limit.key not in replaced]
    added = (limit for limit in tighter if limit.key not in replaced)
    joined = [*mine, *(replace(limit, rank=Rank.LABEL) for limit in label), *added]
    return [limit for limit in joined if limit.verdict is Verdict.STOP or limit.key not in set_aside]
