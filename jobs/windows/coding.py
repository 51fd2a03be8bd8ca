"""Limits as plain data that is stored beside windows, and back. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from jobs.windows.limits import (
    Away,
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
    Settled,
    Steady,
    Verdict,
    WhereKnown,
)

RULES: Mapping[str, type[Any]] = {
    rule.__name__: rule
    for rule in (Away, Between, DryAhead, DryBefore, Fit, Highest, Lowest, RainAhead, Settled, Steady)
}
KNOWN = "WhereKnown"


def limit_coded(limit: Limit) -> dict[str, Any]:
    """A limit as plain data, to be read by `limit_decoded` whatever labels and rules say by then."""
    return {
        "key": limit.key,
        "what": limit.what,
        "unit": limit.unit,
        "scale": limit.scale,
        "rule": _coded(limit.rule),
        "source": limit.source,
        "rank": limit.rank.value,
        "verdict": limit.verdict.value,
    }


def limit_decoded(told: Mapping[str, Any]) -> Limit:
    """The limit that `limit_coded` wrote."""
    return Limit(
        told["key"], told["what"], told["unit"], told["scale"], _decoded(told["rule"]), told["source"],
        Rank(told["rank"]), Verdict(told["verdict"]),
    )  # fmt: skip


def _coded(rule: Rule) -> list[Any]:
    if isinstance(rule, WhereKnown):
        return [KNOWN, _coded(rule.band)]
    return [type(rule).__name__, *(_plain(getattr(rule, field.name)) for field in fields(rule))]  # type: ignore[arg-type]


def _plain(value: Any) -> Any:
    """JSON has no infinity and no tuple."""
    if isinstance(value, float) and math.isinf(value):
        return str(value)
    return list(value) if isinstance(value, tuple) else value


def _decoded(told: list[Any]) -> Rule:
    name, *values = told
    if name == KNOWN:
        band = _decoded(values[0])
        assert isinstance(band, Between)
        return WhereKnown(band)
    read = [
        float(value) if value in ("inf", "-inf") else tuple(value) if isinstance(value, list) else value
        for value in values
    ]
    rule: Rule = RULES[name](*read)
    return rule
