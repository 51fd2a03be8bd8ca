"""Limits in words: what holds an hour, and by how much a window is clear of it. Never a code without its sentence."""

from __future__ import annotations

from collections.abc import Mapping

from jobs.windows.finding import Edge
from jobs.windows.limits import (
    Away,
    Between,
    DryAhead,
    DryBefore,
    Highest,
    Limit,
    Lowest,
    RainAhead,
    Receded,
    Steady,
)

STRETCHES: Mapping[str, str] = {
    "daylight": "it is dark",
    "inversion": "the air may be layered (by the clock, from 4 h before sunset to 2 h after sunrise)",
    "open land": "the land is closed",
    "own time": "the hours asked for end",
    "job": "the job's own dates end",
}
NOW, HORIZON = "now", "horizon"


def broken(limit: Limit, *, low: bool = False) -> str:
    """What is the matter where a limit is broken; `low` says which end of a band."""
    rule, what, unit = limit.rule, limit.what, limit.unit
    match rule:
        case Between(_, least, most):
            return f"{what} below {least:g} {unit}" if low else f"{what} above {most:g} {unit}"
        case Lowest(_, hours, least):
            return f"{what} falls below {least:g} {unit} within {hours} h"
        case Highest(_, hours, most):
            return f"{what} rises above {most:g} {unit} within {hours} h"
        case DryAhead(hours, most):
            return f"{what}: more than {most:g} {unit} may fall within {hours} h"
        case RainAhead(hours, least):
            return f"{what}: {least:g} {unit} are not sure within {hours} h"
        case DryBefore(hours, _):
            return f"{what}: fewer than {hours}"
        case Away(_, degrees, _):
            return f"{what}: within {degrees:g} degrees of what must be spared"
        case Steady(hours, degrees, _):
            return f"{what}: more than {degrees:g} degrees within {hours} h"
        case Receded(_, most, _, _):
            return f"{what} at {most:g} {unit} or not yet down for good"
    raise AssertionError(f"a rule without words: {type(rule).__name__}")


def edge_words(edge: Edge, limits: Mapping[str, Limit]) -> str:
    """What ends a window on one side."""
    if edge.key == HORIZON:
        return "nothing is known beyond"
    if edge.key == NOW:
        return "now"
    if edge.key in STRETCHES:
        return STRETCHES[edge.key]
    limit = limits[edge.key]
    return f"{limit.what} is not known" if edge.margin is None else broken(limit, low=edge.low)


def clear_by(limit: Limit, margin: float) -> str:
    """How far a window stays from the limit that comes closest."""
    return f"{limit.what} comes within {margin:.3g} {limit.unit} of its limit"
