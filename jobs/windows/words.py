"""Limits in words: what holds an hour, and by how much a window is clear of it. Never a code without its sentence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jobs.windows.finding import Edge
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
    Receded,
    Settled,
    Steady,
    Verdict,
    WhereKnown,
)

STRETCHES: Mapping[str, str] = {
    "daylight": "it is dark",
    "inversion": "the air may lie still in layers, in which spray drifts far",
    "open land": "the land is closed",
    "own time": "the hours asked for end",
    "job": "the job's own dates end",
    "river": "the river closes the access, or its stage is not known",
    "contract": "the contract's closed season begins",
    "quiet": "quiet days begin",
    "quiet hours": "the place is closed at these hours",
    "ban": "a ban of the manager begins",
    "tenure": "the tenure ends",
    "prescription": "the typed prescription ends",
    "others near": "others are sent to within the spray's exclusion zone",
    "permit": "the permit ends",
    "rule": "a rule of label or law begins to hold it",
}
BEGINS: Mapping[str, str] = {
    "daylight": "it is light",
    "inversion": "the still air of the night should have mixed, 2 h after sunrise",
    "own time": "the hours asked for begin",
    "job": "the job may begin",
    "river": "the river is down",
    "contract": "the contract's closed season is over",
    "quiet": "quiet days are over",
    "quiet hours": "the place is open at these hours",
    "ban": "a ban of the manager is over",
    "tenure": "the tenure begins",
    "prescription": "the typed prescription begins",
    "others near": "others have left the spray's exclusion zone",
    "permit": "the permit is valid",
    "rule": "a rule of label or law no longer holds it",
}
SHUT: Mapping[str, str] = {
    "daylight": "There is no light in these days.",
    "inversion": "The air may lie still in layers whenever it is light in these days.",
    "open land": "The land is closed as far as the forecast reaches.",
    "job": "Its own dates leave no hours as far as the forecast reaches.",
    "river": "The river closes the access as far as its stage is known, or its stage is not known.",
    "contract": "The contract's closed season covers all hours as far as the forecast reaches.",
    "quiet": "Quiet days cover all hours as far as the forecast reaches.",
    "quiet hours": "The place is closed in all light hours as far as the forecast reaches.",
    "ban": "A ban of the manager covers all hours as far as the forecast reaches.",
    "tenure": "The tenure has ended.",
    "prescription": "The typed prescription has no hours as far as the forecast reaches.",
    "others near": "Others are within the spray's exclusion zone in all hours as far as the forecast reaches.",
    "permit": "The permit covers no hours as far as the forecast reaches.",
    "rule": "A rule of label or law holds it as far as the forecast reaches.",
}
"""Why a named stretch leaves nothing."""
VERDICTS: Mapping[str, str] = {
    Verdict.STOP: "Where it does not hold, the work stops.",
    Verdict.WRITTEN_REASON: "Where it does not hold, the work needs a manager's written reason.",
    Verdict.ADVICE: "Advice.",
}
"""What it means that a limit does not hold."""
NOW, HORIZON = "now", "horizon"


def source_words(title: str, worth: str) -> str:
    """A source and what it is worth, which is not said twice where the title says it."""
    return title if title.casefold().startswith(worth.casefold()) else f"{title} ({worth})"


def _is_fit(limit: Limit) -> bool:
    rule = limit.rule
    return isinstance(rule.band if isinstance(rule, WhereKnown) else rule, Fit)


def broken(limit: Limit, *, low: bool = False) -> str:
    """What is the matter where a limit is broken; `low` says which end of a band."""
    rule, what, unit = limit.rule, limit.what, limit.unit
    rule = rule.band if isinstance(rule, WhereKnown) else rule
    match rule:
        case Settled(_):
            return f"{what} not as it has to be"
        case Between(_, least, most):
            return f"{what} below {least:g} {unit}" if low else f"{what} above {most:g} {unit}"
        case Lowest(_, hours, least):
            return f"{what} falls below {least:g} {unit} within {hours} h"
        case Highest(_, hours, most):
            return f"{what} rises above {most:g} {unit} within {hours} h"
        case DryAhead(0, most):
            return f"{what}: more than {most:g} {unit} may fall"
        case DryAhead(hours, most):
            return f"{what}: more than {most:g} {unit} may fall within {hours} h"
        case RainAhead(hours, least):
            return f"{what}: {least:g} {unit} are not sure within {hours} h"
        case Fit(_):
            return f"{what} is not fit"
        case DryBefore(hours, _):
            return f"{what}: fewer than {hours}"
        case Away(_, degrees, _):
            return f"{what}: within {degrees:g} degrees of what must be spared"
        case Steady(hours, degrees, _):
            return f"{what}: more than {degrees:g} degrees within {hours} h"
        case Receded(_, most, _, _):
            return f"{what} at {most:g} {unit} or not yet down for good"
    raise AssertionError(f"a rule without words: {type(rule).__name__}")


def edge_words(edge: Edge, limits: Mapping[str, Limit], *, opens: bool = False) -> str:
    """What ends a window on one side; where it `opens`, what was the matter before, or what begins."""
    if edge.key == HORIZON:
        return "nothing is known beyond"
    if edge.key == NOW:
        return "now"
    if edge.key in STRETCHES:
        return (BEGINS if opens else STRETCHES).get(edge.key, STRETCHES[edge.key])
    limit = limits[edge.key]
    return f"{limit.what} is not known" if edge.margin is None else broken(limit, low=edge.low)


def why_words(why: Mapping[str, Any], limits: Mapping[str, Limit], last: str) -> str:
    """The one sentence why there is no window. `last` says when the newest forecast was issued, empty: never."""
    match why["kind"]:
        case "unknown":
            return f"No forecast{f' since {last}' if last else ''}: in which hours it may go is not known."
        case "closed":
            return SHUT.get(why["by"], SHUT["open land"])
        case "short":
            return (
                f"No stretch is long enough: the longest in which all limits hold has {duration(why['longest'])}, "
                f"the work needs {duration(why['needed'])}."
            )
    limit = limits[why["key"]]
    what = f"{limit.what} is not known" if why.get("unknown") else broken(limit, low=why.get("low", False))
    return f"No window as far as the forecast reaches: {what} in {why['hours']} of the {why['of']} hours looked at."


def duration(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    return f"{rest} min" if not hours else f"{hours} h" if not rest else f"{hours} h {rest:02d}"


def holds_by(limit: Limit, margin: float) -> str:
    """That a limit holds now, and by how much where that is measured."""
    if _is_fit(limit):
        return f"{limit.what} is fit now"
    return f"{limit.what} is {margin:.3g} {limit.unit} clear of its limit now"


def clear_by(limit: Limit, margin: float) -> str:
    """How far a window stays from the limit that comes closest."""
    if _is_fit(limit):
        return f"closest limit: {limit.what}, which is fit"
    return f"closest limit: {limit.what}, {margin:.3g} {limit.unit} to spare"
