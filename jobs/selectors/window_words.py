"""Stored windows in words: in which hours a job may go, what ends them, how close it comes, how old the forecast is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jobs.graph.data import FAR
from jobs.hours import Stretch
from jobs.minutes import instant
from jobs.selectors.windows import joined_of, limits_for
from jobs.windows.limits import Limit
from jobs.windows.picture import clock
from jobs.windows.several import decoded, next_of
from jobs.windows.words import clear_by, edge_words, why_words


def window_told(row: Mapping[str, Any], zone: str, minute: int) -> dict[str, Any] | None:
    """The next window of a row of `answer_rows` with its sentence, or the sentence why there is none; None where
    nothing takes hours from it or nobody asks."""
    stored = row["reckoning__windows"]
    if stored is None:
        return None
    limits = limits_of_row(row)
    ahead = next_of(stored, minute)
    told: dict[str, Any] = {
        "known": is_known(stored),
        "from": None,
        "to": None,
        "zone": zone,
        "ends": "",
        "closest": "",
        "not_known": left_out(stored, limits),
    }
    if ahead is not None:
        told |= {"from": instant(ahead["from"]), "to": instant(ahead["to"]), "ends": ends_with(ahead, limits)}
        told["closest"] = closest(ahead, limits)
    told["sentence"] = sentence_of(stored, limits, zone, minute)
    return told


def is_known(stored: Mapping[str, Any]) -> bool:
    """Whether anything is known of the hours; only then can one be in or outside a window."""
    return bool(stored.get("why", {}).get("kind") != "unknown")


def limits_of_row(row: Mapping[str, Any]) -> dict[str, Limit]:
    """All limits that the windows of a row may name."""
    return limits_for(row["operation"], row["details"], (), joined_of(row["reckoning__windows"] or {})).by_key


def stretches_of(stored: Mapping[str, Any]) -> list[Stretch]:
    """The windows; where the weather does not decide, also the time beyond its forecast."""
    found = [(window["from"], window["to"]) for window in stored.get("found", ())]
    return [*found, (stored["beyond"], FAR)] if "beyond" in stored else found


def sentence_of(stored: Mapping[str, Any], limits: Mapping[str, Limit], zone: str, minute: int) -> str:
    """One to four sentences: the next window and what ends it, or why there is none; what was left out; the age."""
    ahead = next_of(stored, minute)
    last = clock(stored["last"], zone) if "last" in stored else ""
    if ahead is not None:
        parts = [f"Fit {_hours(ahead, zone)}; then {ends_with(ahead, limits)}.", closest(ahead, limits)]
    elif "why" in stored:
        parts = [why_words(stored["why"], limits, last)]
    else:
        parts = ["Its hours of today are over, and no others are known."]
    parts += [left_out(stored, limits), age(stored, zone)]
    return " ".join(part for part in parts if part)


def beside(row: Mapping[str, Any], zone: str, minute: int) -> str:
    """What is said beside hours that stand there already: how close the next window comes, what was left out, the age
    of the forecast."""
    stored, limits = row["reckoning__windows"], limits_of_row(row)
    ahead = next_of(stored, minute)
    parts = [closest(ahead, limits) if ahead is not None else "", left_out(stored, limits), age(stored, zone)]
    return " ".join(part for part in parts if part)


def ends_with(window: Mapping[str, Any], limits: Mapping[str, Limit]) -> str:
    return edge_words(decoded(window["closes"]), limits)


def opens_with(window: Mapping[str, Any], limits: Mapping[str, Limit]) -> str:
    return edge_words(decoded(window["opens"]), limits, opens=True)


def closest(window: Mapping[str, Any], limits: Mapping[str, Limit]) -> str:
    """By how much a window is clear of the limit that comes closest."""
    limit = limits.get(window.get("tightest", ""))
    return "" if limit is None else f"{_capital(clear_by(limit, window['least']))}."


def left_out(stored: Mapping[str, Any], limits: Mapping[str, Limit]) -> str:
    """What nobody forecasts here, so that it was left out: look for yourself."""
    keys = (*stored.get("left_out", ()), *stored.get("partly", ()))
    names = [limits[key].what for key in keys if key in limits]
    return f"Not known, so look for yourself: {', '.join(names)}." if names else ""


def age(stored: Mapping[str, Any], zone: str) -> str:
    return f"Forecast of {clock(stored['issued'], zone)}." if "issued" in stored else ""


def _hours(window: Mapping[str, Any], zone: str) -> str:
    first, last = clock(window["from"], zone), clock(window["to"], zone)
    return f"{first} to {last.rsplit(' ', 1)[1] if first.rsplit(' ', 1)[0] == last.rsplit(' ', 1)[0] else last}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
