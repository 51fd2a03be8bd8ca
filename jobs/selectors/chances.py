"""Beyond the forecast: what years of daily weather say of the days that are left to one job."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from django.db.models import Max

from core.models import Holding
from jobs.chances.chance import WORK_DAY_MIN, chance
from jobs.chances.history import Bools, history
from jobs.chances.suitable import Days, reach_days, suitable
from jobs.graph.data import FAR
from jobs.hours import intersect
from jobs.minutes import day_start, floor_minute, local_day
from jobs.models import Job
from jobs.selectors.facts import Loaded, load
from jobs.selectors.hours import OLDEST
from jobs.selectors.joined import JoinedLimits, own_limits
from jobs.selectors.past_days import past_days
from jobs.selectors.windows import limits_for, needs_windows
from jobs.sentences import STATES, Names
from jobs.walk import State, walk
from jobs.windows.limits import Limit
from plots.models import DayKind, Hour, PropertySeries

MOST_DAYS = 550
"""A season is looked at so far ahead at most."""
OVER = frozenset({State.DONE, State.CALLED_OFF, State.NOT_CALLED_FOR, State.LAPSED})
NOTHING: dict[str, Any] = {
    "known": False, "first_day": None, "last_day": None, "forecast_until": None, "years": 0, "first_year": None,
    "last_year": None, "days": None, "days_nine_of_ten": None, "days_one_of_ten": None, "of_days": None, "share": None,
    "years_got": None, "days_needed": None, "answered": [], "left_out": [], "stations": [],
}  # fmt: skip


def job_chance(holding: Holding, job: Job, now: datetime) -> dict[str, Any]:
    """How many suitable days are usually left before the latest finish, and the share of years in which the job still
    got its window. Where nothing can be said, `known` is false and the sentence says why."""
    loaded = load(holding, now, {job.component})
    row = loaded.rows[job.pk]
    result = walk(loaded.facts, floor_minute(now)).results[job.pk]
    told = {"job": row.id, "title": job.title, "zone": row.zone} | NOTHING
    names = Names(zone=row.zone, year=now.year)
    if result.state in OVER:
        return told | {"sentence": f"It is {STATES[result.state]}: there is no chance to reckon."}
    if not needs_windows(row.operation):
        return told | {"sentence": "The weather has no say in the days of this work."}
    limits = limits_of(holding, loaded, [job.pk])[job.pk]
    latest = result.dates.lf
    if latest >= FAR:
        return told | {"sentence": "It has no latest finish, so no days can be counted."}
    forecast = forecast_until(row.property, row.zone, now)
    today = local_day(row.zone, floor_minute(now))
    earliest = today if result.dates.es >= FAR else local_day(row.zone, result.dates.es)
    first = max(today, earliest, today if forecast is None else forecast + timedelta(days=1))
    last = local_day(row.zone, latest - 1)
    told |= {"forecast_until": forecast}
    if last >= first:
        told |= {"first_day": first, "last_day": last}
    if result.dates.es >= FAR:
        return told | {"sentence": "Not known when it may begin, so no days can be counted."}
    if last < first:
        why = "The forecast reaches past the last day on which it may end: see its hours of the week."
        return told | {"sentence": why if forecast is not None and last <= forecast else "No day is left for it."}
    last = min(last, first + timedelta(days=MOST_DAYS))
    places = past_days([row.property], today)[row.property]
    pad = timedelta(days=reach_days(limits))
    past = history(places.days, first - pad, last + pad, before=(first - pad).year)
    days = suitable(limits, past)
    told |= {"left_out": named_limits(days.left_out), "answered": named_limits(days.answered), "stations": places.names}
    if not days.answered:
        return told | {"sentence": _unanswered(days)}
    inside = past.between(first, last)
    rows = past.complete(days.reads)
    if not rows.any():
        return told | {"sentence": "There is no year of daily weather for this place yet. Import a station's history."}
    kept = past.only(rows)
    allowed = _workable(loaded, row.id, row.zone, past.days[inside], _left_minutes(loaded, row.id), latest)
    work = row.details.get("work", {})
    found = chance(
        kept.years,
        days.holds[rows][:, inside] & allowed[None, :],
        _left_minutes(loaded, row.id),
        may_split=bool(work.get("may_split")),
    )
    low, high = found.middle
    told |= {
        "known": True,
        "years": len(found.years),
        "first_year": found.years[0],
        "last_year": found.years[-1],
        "days": found.usual,
        "days_nine_of_ten": low,
        "days_one_of_ten": high,
        "of_days": int(allowed.sum()),
        "share": round(found.share, 4),
        "years_got": sum(found.got),
        "days_needed": found.needed,
    }
    return told | {"sentence": _sentence(told, names)}


def limits_of(holding: Holding, loaded: Loaded, jobs: Iterable[int]) -> dict[int, tuple[Limit, ...]]:
    """By job the limits that bind its hours, with those of label, plan and the holding; none where the weather has no
    say."""
    rows = {job: loaded.rows[job] for job in jobs if needs_windows(loaded.rows[job].operation)}
    joined = JoinedLimits(holding, rows, loaded.facts.problem.today, own_limits(holding)) if rows else None
    found: dict[int, tuple[Limit, ...]] = dict.fromkeys(jobs, ())
    for job, row in rows.items():
        assert joined is not None
        added = joined.of(row, limits_for(row.operation, row.details).by_key)
        overridden = loaded.facts.jobs[job].overridden
        found[job] = limits_for(row.operation, row.details, overridden, added).binding
    return found


def _sentence(told: dict[str, Any], names: Names) -> str:
    first, last = (names.day(day_start(names.zone, told[key])) for key in ("first_day", "last_day"))
    days = told["of_days"]
    much = f"{told['days']} of {days} day{'s' if days != 1 else ''} usually suit"
    spread = f"nine years of ten had {told['days_nine_of_ten']} or more"
    need = "" if told["days_needed"] == 1 else f", {told['days_needed']} days on end,"
    got = f"In {told['years_got']} of {told['years']} years it still got its window{need}".rstrip(",")
    left = f" {left_out_words(told['left_out'])}" if told["left_out"] else ""
    return f"From {first} to {last} {much} ({spread}). {got}.{left}"


def left_out_words(limits: Sequence[dict[str, str]]) -> str:
    """Which limits the figure knows nothing of."""
    return f"Daily weather does not tell of: {', '.join(one['what'] for one in limits)}."


def _unanswered(days: Days) -> str:
    if not days.left_out:
        return "No limit of the weather binds it."
    return f"No chance is told. {left_out_words(named_limits(days.left_out))}"


def named_limits(limits: Iterable[Limit]) -> list[dict[str, str]]:
    """Each limit once, by key and what it looks at."""
    found = {limit.key: limit.what for limit in limits}
    return [{"key": key, "what": what} for key, what in found.items()]


def forecast_until(property_id: int, zone: str, now: datetime) -> date | None:
    """The last local day that a fresh forecast covers whole; None without one."""
    series = PropertySeries.objects.filter(property_id=property_id).values("series_id")
    rows = Hour.objects.filter(series_id__in=series, kind=DayKind.FORECAST, issued_at__gte=now - OLDEST, at__gte=now)
    last = rows.aggregate(last=Max("at"))["last"]
    return None if last is None else local_day(zone, floor_minute(last) + 60) - timedelta(days=1)


def _left_minutes(loaded: Loaded, job: int) -> int:
    row, done = loaded.rows[job], loaded.folded[job].acres_done
    left = 1.0 if not row.acres else max(0.0, row.acres - done) / row.acres
    return round(row.duration * left)


def _workable(loaded: Loaded, job: int, zone: str, days: Sequence[date], minutes: int, latest: int) -> Bools:
    """By day: whether the job's own days, less every closure, leave room for a day's work of it before its end."""
    node = next(node for node in loaded.facts.problem.nodes if node.id == job)
    least = max(1, min(minutes, WORK_DAY_MIN))
    found = []
    for day in days:
        start, end = day_start(zone, day), min(day_start(zone, day + timedelta(days=1)), latest)
        room = intersect([(start, end)], list(node.spans)) if start < end else []
        found.append(any(to - since >= least for since, to in room))
    return np.array(found, bool)
