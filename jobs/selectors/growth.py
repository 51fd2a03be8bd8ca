"""How far a plot's crop is: degree days to date, emergence, stages, and ripeness before the first freeze."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np

from core.models import Holding
from jobs.chances.history import HIGH, LOW, filled, history
from jobs.folding import Folded
from jobs.law.data import CROPS_SOWN
from jobs.minutes import day_start, floor_minute, local_day
from jobs.models import Job, JobState, Observation, Report
from jobs.reference import growth_stages, reference
from jobs.selectors.facts import NOT_YET
from jobs.selectors.facts.crops import crop_sown
from jobs.selectors.facts.rows import JobRow, job_rows
from jobs.selectors.facts.told import folded_reports
from jobs.selectors.past_days import past_days
from jobs.selectors.weather import PropertyWeather, curves, property_weather
from jobs.sentences import Names
from jobs.sequences.reference import Crop, CropValue
from plots.agronomy.frost import Freezes, first_freezes, ripening
from plots.agronomy.growth import (
    NOT_COUNTED,
    Emergence,
    ToDate,
    daily_hundredths,
    emergence,
    late_requirement,
    to_date,
)
from plots.degree_days import DegreeDaySpec, NormalDay, degree_days
from plots.models import Plot

UP, EMERGENCE = "emerged", "emergence"
LOST_A_DAY = "degree_days_lost_per_day_after_may_1"
RIPE = {"corn": 2_700.0}
"""Degree days to black layer where nobody says the hybrid's own (a weak page; type the hybrid's figure)."""
FREEZE_F = 28
"""A killing freeze (from memory); ask with another figure where the crop dies sooner."""


@dataclass(frozen=True, slots=True)
class Stand:
    """The last sowing on a plot that was reported done, its crop (None where the season names none) and its day."""

    row: JobRow
    told: Folded
    crop: Crop | None
    sown: date


def stand_on(holding: Holding, plot: Plot) -> Stand | None:
    """What stands on the plot: of the sowings that were reported done the last one."""
    jobs = Job.objects.filter(holding=holding, plot=plot, operation__in=CROPS_SOWN, reports__isnull=False)
    ids = set(jobs.exclude(reckoning__state=JobState.CALLED_OFF).values_list("pk", flat=True))
    if not ids:
        return None
    rows = job_rows(holding, jobs=ids)
    done = [
        (told.finished.early, job)
        for job, told in folded_reports(holding.pk, rows, job__in=ids).items()
        if told.finished is not None
    ]
    if not done:
        return None
    at, job = max(done)
    named = Job.objects.filter(pk=job).values_list("season__sequence__document__crop", flat=True).first()
    row = rows[job]
    crop = reference().crops.get(crop_sown(row.step, row.details.get("tags", ()), named or ""))
    told = folded_reports(holding.pk, rows, job__in=[job])[job]
    return Stand(rows[job], told, crop, local_day(rows[job].zone, at))


def degree_days_of(
    holding: Holding, plot: Plot, now: datetime, key: str = "", since: date | None = None
) -> dict[str, Any]:
    """Degree days observed, forecast and normal to date. Without `since` from the day after the last sowing, else from
    1 January; without `key` as the crop counts, else 86/50."""
    zone = plot.property.zone or holding.zone
    today = local_day(zone, floor_minute(now))
    stand = stand_on(holding, plot) if since is None or not key else None
    crop = stand.crop if stand is not None else None
    spec = DegreeDaySpec.parse(key or (crop.degree_days if crop is not None else "") or "86/50")
    first = since or (stand.sown + timedelta(days=1) if stand is not None else date(today.year, 1, 1))
    weather = property_weather({plot.property_id}, {plot.property_id: zone}, first).get(plot.property_id)
    found = _to_date(spec, first, today, weather)
    return {
        "plot": plot.pk,
        "name": plot.name,
        "count": spec.key,
        "first_day": first,
        "last_day": found.last_day,
        "observed": found.observed / 100,
        "normal": None if found.normal is None else found.normal / 100,
        "ahead_of_normal": None if found.ahead_of_normal is None else found.ahead_of_normal / 100,
        "forecast": found.forecast / 100,
        "forecast_until": found.until,
        "missing_days": len(found.missing),
        "sentence": _sum_sentence(found, spec, Names(zone=zone, year=today.year)),
    }


def _to_date(spec: DegreeDaySpec, first: date, today: date, weather: PropertyWeather | None) -> ToDate:
    here = weather or PropertyWeather()
    normals = {
        key: NormalDay(high, low, published.get(spec.key)) for key, (high, low, published) in here.normals.items()
    }
    return to_date(spec, first, today, here.observed, here.forecast, normals)


def _sum_sentence(found: ToDate, spec: DegreeDaySpec, names: Names) -> str:
    def day(when: date) -> str:
        return names.day(day_start(names.zone, when))

    if found.first_day > found.last_day:
        return f"Degree days ({spec.key} F) are counted from {day(found.first_day)} on."
    asked = (found.last_day - found.first_day).days + 1
    counted = asked - len(found.missing)
    if found.counted_from is None:
        parts = [f"No day since {day(found.first_day)} has temperatures, so no degree days ({spec.key} F) are counted"]
    else:
        parts = [f"{found.observed / 100:.0f} degree days ({spec.key} F) since {day(found.counted_from)}"]
    if found.normal is not None:
        parts.append(f"normal for the same {counted} day{'s' if counted != 1 else ''} are {found.normal / 100:.0f}")
    if found.until is not None:
        parts.append(f"the forecast adds {found.forecast / 100:.0f} by {day(found.until)}")
    missing = len(found.missing)
    days = f"{missing} day{'s' if missing != 1 else ''} since {day(found.first_day)}"
    lack = "has no temperatures and counts" if missing == 1 else "have no temperatures and count"
    note = f" {days} {lack} in neither." if missing and counted else ""
    return f"{'; '.join(parts)}.{note}"


def plot_growth(
    holding: Holding, plot: Plot, now: datetime, *, ripe: float | None = None, freeze_f: float = FREEZE_F
) -> dict[str, Any]:
    """The crop that stands: when it comes up or came up, its stage, and in which share of the years it is ripe before
    the first freeze. `ripe` are the degree days from planting to ripeness of the variety, for a planting by 1 May."""
    told: dict[str, Any] = {
        "plot": plot.pk, "name": plot.name, "crop": "", "sown": None, "emergence": None, "stages": [], "ripeness": None,
    }  # fmt: skip
    stand = stand_on(holding, plot)
    if stand is None:
        return told | {"sentence": "Nothing was reported sown on this plot."}
    zone = stand.row.zone
    names = Names(zone=zone, year=now.year)
    name = stand.crop.name if stand.crop is not None else "a crop that its season does not name"
    told |= {"crop": stand.crop.key if stand.crop is not None else "", "sown": stand.sown}
    sentence = f"Sown on {names.day(day_start(zone, stand.sown))}: {name}."
    if stand.crop is None or not stand.crop.degree_days:
        return told | {"sentence": sentence}
    up = _emergence(holding, plot, stand, now)
    told |= {
        "emergence": up,
        "stages": _stages(stand, plot, now, up),
        "ripeness": _ripeness(stand, plot, now, ripe, freeze_f),
    }
    said = [sentence, *(part["sentence"] for part in (up, *told["stages"], told["ripeness"]) if part is not None)]
    return told | {"sentence": " ".join(said)}


def _figures(crop: Crop, name: str) -> list[CropValue]:
    return [value for value in crop.values if value.name.startswith(name) and value.unit == "degree_days"]


def _emergence(holding: Holding, plot: Plot, stand: Stand, now: datetime) -> dict[str, Any] | None:
    assert stand.crop is not None
    figures = _figures(stand.crop, EMERGENCE)
    if not figures or stand.told.finished is None:
        return None
    zone, today = stand.row.zone, local_day(stand.row.zone, floor_minute(now))
    place = plot.property_id, stand.crop.degree_days
    curve = curves({place}, {plot.property_id: zone}, stand.sown - timedelta(days=1), today).get(place)
    seen, in_vain = _looks(holding, plot, zone, stand.sown)
    low, high = (round(bound * 100) for bound in (min(v.low for v in figures), max(v.high for v in figures)))
    if curve is None and seen is None:
        found = Emergence("unknown", None, None)
    elif curve is None:
        found = Emergence("confirmed", seen, seen, "observed", "observed")
    else:
        found = emergence(curve, zone, stand.told.finished.late, low, high, seen=seen, in_vain=in_vain)
    return {
        "state": found.state,
        "early": found.early,
        "late": found.late,
        "early_by": found.early_by,
        "late_by": found.late_by,
        "low": low / 100,
        "high": high / 100,
        "sources": _sources(figures),
        "sentence": _up_sentence(found, Names(zone=zone, year=now.year)),
    }


def _looks(holding: Holding, plot: Plot, zone: str, since: date) -> tuple[date | None, date | None]:
    """(the first day on which the crop was seen up, the last look in vain) since the sowing."""
    taken_back = Report.objects.filter(holding=holding, corrects__isnull=False).values("corrects_id")
    rows = Observation.objects.filter(holding=holding, plot=plot, kind__in=(UP, NOT_YET + UP))
    days = [
        (kind, local_day(zone, floor_minute(at)))
        for kind, at in rows.exclude(report__in=taken_back).order_by("at", "id").values_list("kind", "at")
    ]
    seen = [day for kind, day in days if kind == UP and day >= since]
    vain = [day for kind, day in days if kind != UP and day >= since]
    return (seen[0] if seen else None, vain[-1] if vain else None)


def _up_sentence(found: Emergence, names: Names) -> str:
    def day(when: date | None) -> str:
        return "" if when is None else names.day(day_start(names.zone, when))

    if found.state == "confirmed":
        return f"Seen up on {day(found.early)}."
    if found.state == "overdue":
        return "By the degree days it should be up, and the last look was in vain: dig for seed and look for the cause."
    if found.early is None:
        return "Not known when it comes up: no temperatures reach far enough."
    until = f" to {day(found.late)}" if found.late not in (None, found.early) else ""
    moved = " Moved by a look at which nothing was up." if found.state == "moved" else ""
    return f"Expected up {day(found.early)}{until}.{moved}"


def _sources(figures: list[CropValue]) -> list[dict[str, str]]:
    found = {value.source: value.worth for value in figures}
    return [{"key": key, "title": reference().sources[key].title, "worth": worth} for key, worth in found.items()]


def _stages(stand: Stand, plot: Plot, now: datetime, up: dict[str, Any] | None) -> list[dict[str, Any]]:
    """What each published table says, by variety; a table that counts from emergence waits until it was seen."""
    assert stand.crop is not None
    found = []
    today = local_day(stand.row.zone, floor_minute(now))
    emerged = up["early"] if up is not None and up["state"] == "confirmed" else None
    for table in growth_stages():
        anchor = stand.sown if table.zero == "planting" else emerged
        if table.crop != stand.crop.key or anchor is None or anchor >= today:
            continue
        first = anchor + timedelta(days=1)
        weather = property_weather({plot.property_id}, {plot.property_id: stand.row.zone}, first).get(plot.property_id)
        sums = _to_date(DegreeDaySpec.parse(table.spec), first, today, weather)
        if sums.missing:
            continue
        total, source = sums.observed / 100, reference().sources[table.source]
        for variety in table.sums:
            past, ahead, left = table.at(variety, total)
            words = variety.replace("_", " ")
            kind = "" if len(table.sums) == 1 else f" ({words})"
            then = f"; {left:.0f} degree days to {ahead}" if left is not None else ""
            found.append(
                {
                    "table": table.key,
                    "variety": words,
                    "total": total,
                    "stage": past,
                    "next": ahead,
                    "left": left,
                    "source": table.source,
                    "source_title": source.title,
                    "sentence": f"By {source.publisher}{kind}: {past or 'not up yet'}{then}.",
                }
            )
    return found


def _ripeness(stand: Stand, plot: Plot, now: datetime, ripe: float | None, freeze_f: float) -> dict[str, Any] | None:
    """In how many years of history the planting is ripe before the first freeze, each year's temperatures from today
    on."""
    assert stand.crop is not None
    full = ripe or RIPE.get(stand.crop.key) or max((v.high for v in _figures(stand.crop, "black_layer")), default=None)
    if full is None:
        return None
    lost = next((value.low for value in stand.crop.values if value.name == LOST_A_DAY), None)
    needed = full if lost is None else late_requirement(full, stand.sown, less_per_day=lost)
    today = local_day(stand.row.zone, floor_minute(now))
    days = past_days([plot.property_id], today)[plot.property_id].days
    spec = DegreeDaySpec.parse(stand.crop.degree_days)
    first, last = stand.sown + timedelta(days=1), date(stand.sown.year, 12, 31)
    freezes = first_freezes({day: told[1] for day, told in days.items() if told[1] is not None}, freeze_f)
    if today > last or not freezes.by_year:
        return None
    past = history(days, first, last, before=first.year)
    ahead = past.between(today, last)
    rows = past.part(ahead).complete((HIGH, LOW))
    values = filled(daily_hundredths(past.of(HIGH)[rows], past.of(LOW)[rows], spec), NOT_COUNTED)
    observed = property_weather({plot.property_id}, {plot.property_id: stand.row.zone}, first).get(plot.property_id)
    for at in range((today - first).days):
        told = observed.observed.get(first + timedelta(days=at)) if observed is not None else None
        if told is not None and at < values.shape[1]:
            values[:, at] = degree_days(*told, spec)
    sums = np.cumsum(values, axis=1)
    years = [year for year, kept in zip(past.years, rows.tolist(), strict=True) if kept]
    reached = [int(row.searchsorted(round(needed * 100))) for row in sums]
    ripe_on = {
        year: (first + timedelta(days=at)).replace(year=year) if at < sums.shape[1] else None
        for year, at in zip(years, reached, strict=True)
    }
    known = ripening(ripe_on, Freezes(freeze_f, {y: d for y, d in freezes.by_year.items() if y in ripe_on}, ()))
    count = len(known.ripe) + len(known.frozen)
    if known.share is None:
        return None
    mean = freezes.mean_day(first.year)
    return {
        "needed": round(needed, 1),
        "freeze_f": freeze_f,
        "years": count,
        "years_ripe": len(known.ripe),
        "share": round(known.share, 4),
        "mean_first_freeze": mean,
        "sentence": (
            f"It needs {needed:.0f} degree days to be ripe; in {len(known.ripe)} of {count} years that came before the"
            f" first {freeze_f:g} F of autumn."
        ),
    }
