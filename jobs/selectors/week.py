"""The hours of one job over a week: its windows, each limit's distance now, the line of the tightest, as a picture."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from core.models import Holding
from jobs.hours import subtract
from jobs.minutes import day_start, floor_minute, instant, local_day
from jobs.models import Job
from jobs.reference import reference
from jobs.selectors.answers import answer_rows
from jobs.selectors.facts import DESK
from jobs.selectors.frost import frost_sentence
from jobs.selectors.ground import plot_hours
from jobs.selectors.hours import hours_at
from jobs.selectors.own_hours import light_of
from jobs.selectors.window_words import age, closest, ends_with, is_known, left_out, opens_with, sentence_of
from jobs.selectors.windows import joined_of, limits_for, needs_windows, with_moisture
from jobs.windows.choosing import on_the_spot
from jobs.windows.derive import with_derived
from jobs.windows.finding import is_low, line
from jobs.windows.hours import HOUR, Hours
from jobs.windows.limits import Limit, Verdict
from jobs.windows.picture import Shown, clock
from jobs.windows.several import Places
from jobs.windows.words import broken, holds_by, why_words

DAYS = 7
NO_SAY = "The weather has no say in the hours of this work."
NOTHING_CLOSES = (
    "The weather does not decide its hours, and no heat, cold, thunder or high water is known to come over them. "
    "What no forecast tells, look for yourself."
)
NOT_YET = "Its hours are looked for when it opens within the reach of a forecast."


@dataclass(frozen=True, slots=True)
class JobWeek:
    """All that is told of a job's hours (`told`, as the API answers) and what the picture of its week shows."""

    told: dict[str, Any]
    shown: Shown | None


def job_week(holding: Holding, job: Job, now: datetime) -> JobWeek | None:
    """The stored windows of a job and the distance of its limits now; None while no walk has reckoned it."""
    rows = answer_rows(Job.objects.filter(pk=job.pk))
    if not rows:
        return None
    (row,) = rows
    zone, minute = row["plot__property__zone"] or holding.zone, floor_minute(now)
    begins = local_day(zone, max(minute, floor_minute(row["reckoning__earliest_start"] or now)))
    told: dict[str, Any] = {
        "job": row["id"], "title": row["title"], "zone": zone, "state": row["reckoning__state"], "known": False,
        "issued": None, "sentence": NO_SAY, "minutes": None, "windows": [], "limits": [], "left_out": [],
        "set_aside": [], "advice": [], "frost": frost_sentence(row["operation"], row["plot__property_id"], begins),
        "on_the_spot": on_the_spot(row["details"].get("limits", ())), "soil_water": "",
    }  # fmt: skip
    stored, decides = row["reckoning__windows"], needs_windows(row["operation"])
    if stored is None:
        sentence = NOT_YET if decides else NO_SAY if row["operation"] in DESK else NOTHING_CLOSES
        return JobWeek(told | {"sentence": sentence}, None)
    joined = joined_of(stored)
    chosen = limits_for(row["operation"], row["details"], stored.get("set_aside", ()), joined)
    every = limits_for(row["operation"], row["details"], (), joined).by_key
    since = day_start(holding.zone, local_day(holding.zone, minute))
    hours, told["soil_water"] = _hours(holding, row, now, since)
    places = Places(hours, since)
    left = set(stored.get("left_out", ()))
    binding = tuple(limit for limit in chosen.binding if limit.key not in left)
    told |= {
        "known": is_known(stored),
        "issued": instant(stored.get("issued")),
        "sentence": sentence_of(stored, every, zone, minute),
        "minutes": stored["minutes"],
        "windows": [_window(window, every, minute) for window in stored.get("found", ()) if window["to"] > minute],
        "limits": [_limit(places, limit, minute) for limit in binding],
        "left_out": [
            {"key": key, "what": every[key].what} for key in sorted({*left, *stored.get("partly", ())}) if key in every
        ],
        "set_aside": [{"key": k, "what": every[k].what} for k in stored.get("set_aside", ()) if k in every],
        "advice": [_limit(places, limit, minute) for limit in chosen.told],
    }
    if not told["known"] or not binding:
        return JobWeek(told, None)
    held = places.held(binding)
    until = since + DAYS * 24 * HOUR
    tightest = [(at, every[key].what, steps) for at, key, steps in line(held, 0) if since <= at < until]
    first = local_day(zone, since)
    light = light_of(
        row["plot__property__latitude"],
        row["plot__property__longitude"],
        zone,
        tuple(first + timedelta(days=n) for n in range(DAYS + 1)),
    )
    windows = [(window["from"], window["to"]) for window in stored.get("found", ())]
    title = f"{row['title']}, {row['plot__name']}, {row['plot__property__name']}"
    lines = lines_of(stored, every, zone, minute)
    return JobWeek(told, Shown(title, zone, tightest, windows, subtract([(since, until)], light), lines, minute))


def _hours(holding: Holding, row: Mapping[str, Any], now: datetime, since: int) -> tuple[Hours, str]:
    """The hours of a job's plot alone, as the walk had them, and what its soil water goes by."""
    known = hours_at([row["plot__property_id"]], now, since)
    known = replace(known, hours=with_derived(known.hours))
    plots = plot_hours(known, {row["plot_id"]: row["plot__property_id"]}, holding, now)
    zone = row["plot__property__zone"] or holding.zone
    hours = with_moisture(plots.hours, plots.place, [(row["plot_id"], zone, row["details"])], since)
    return hours, plots.methods.get(row["plot_id"], "")


def lines_of(stored: Mapping[str, Any], limits: Mapping[str, Limit], zone: str, minute: int) -> list[str]:
    """The windows that are not over in words, one a line, then what was left out and the age of the forecast."""
    lines = []
    for window in (one for one in stored.get("found", ()) if one["to"] > minute):
        hours = f"{clock(window['from'], zone)} to {clock(window['to'], zone).rsplit(' ', 1)[1]}"
        lines.append(f"{hours}; then {ends_with(window, limits)}. {closest(window, limits)}".strip())
    if not lines and "why" in stored:
        lines.append(why_words(stored["why"], limits, clock(stored["last"], zone) if "last" in stored else ""))
    return [part for part in (*lines, left_out(stored, limits), age(stored, zone)) if part]


def _window(window: Mapping[str, Any], limits: Mapping[str, Limit], minute: int) -> dict[str, Any]:
    limit = limits.get(window.get("tightest", ""))
    return {
        "from": instant(window["from"]),
        "to": instant(window["to"]),
        "now": window["from"] <= minute < window["to"],
        "opens": opens_with(window, limits),
        "ends": ends_with(window, limits),
        "closest": closest(window, limits),
        "tightest": window.get("tightest", ""),
        "distance": window.get("least"),
        "unit": limit.unit if limit is not None else "",
    }


def _limit(places: Places, limit: Limit, minute: int) -> dict[str, Any]:
    """A limit with its distance in the hour of `minute`: 0 or more holds."""
    hour = (minute - places.hours.first) // HOUR
    distance = float(places.margin(limit)[0, hour])
    known = bool(np.isfinite(distance))
    source = reference().sources.get(limit.source)
    if not known:
        sentence = f"{limit.what} is not known now"
    elif distance >= 0:
        sentence = holds_by(limit, distance)
    else:
        sentence = f"now {broken(limit, low=is_low(places.held((limit,)), 0, hour, limit.key))}"
    return {
        "key": limit.key,
        "what": limit.what,
        "unit": limit.unit,
        "distance": round(distance, 2) if known else None,
        "sentence": f"{sentence[:1].upper()}{sentence[1:]}.",
        "verdict": limit.verdict.value,
        "rank": limit.rank.value,
        "may_be_set_aside": limit.verdict is not Verdict.STOP,
        "source": limit.source,
        "source_title": source.title if source else "",
        "worth": source.worth if source else "",
    }
