"""The river at properties: stages by hour, the limit an access sets, and the duty to bring out what would drown."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from django.db.models import Q

from core.models import Holding
from jobs.graph.data import FAR
from jobs.minutes import floor_minute
from jobs.models import Job, JobState
from jobs.sentences import Names
from jobs.windows.hours import Floats
from jobs.windows.water import GOOD_FOR, Coming, Gate, Stage, Standing, leave_by, stage_hours
from jobs.windows.water import water_coming as coming_to
from plots.models import DayKind, Gauge, Machine, Plot, PlotKind, PropertyGauge, Reading

OLDEST = timedelta(hours=24)
"""A stage forecast issued longer ago counts as none."""
READ_BACK = timedelta(days=5)
NOT_CURRENT = frozenset({"obs_not_current", "out_of_service", "not_defined"})
"""The Weather Service's words for a gauge of which it says nothing good; then nothing is known."""
MACHINE_MIN, FEEDER_MIN = 60, 60
"""How long it takes to drive a machine out, or to empty and load a feeder (from memory)."""
TO_TAKE_DOWN = ("open_fence", "store")
STANDS, AHEAD = JobState.DONE, (JobState.OPEN, JobState.HELD, JobState.LAPSED, JobState.UNDER_WAY)


@dataclass(frozen=True, slots=True)
class River:
    """What is known of the gauge of one property, readings and forecast in the order of time; `issued` is the minute at
    which the oldest of the forecast was issued."""

    property: int
    site: str
    name: str
    gate: Gate
    read: Sequence[Stage]
    ahead: Sequence[Stage]
    trusted: bool = True
    issued: int | None = None


def rivers(properties: Iterable[int], now: datetime) -> list[River]:
    """Of every property that has a gauge, by property, with readings of the last days. Three queries, one where no
    property has a gauge."""
    links = list(PropertyGauge.objects.filter(property_id__in=sorted(set(properties))).order_by("property_id"))
    if not links:
        return []
    gauges = {gauge.site: gauge for gauge in Gauge.objects.filter(site__in={link.site for link in links})}
    stages: dict[tuple[int, str], list[Stage]] = defaultdict(list)
    fresh = Q(kind=DayKind.OBSERVED, at__lte=now) | Q(kind=DayKind.FORECAST, issued_at__gte=now - OLDEST)
    rows = Reading.objects.filter(fresh, gauge__in=[gauge.pk for gauge in gauges.values()], at__gte=now - READ_BACK)
    issued: dict[int, int] = {}
    columns = ("gauge_id", "kind", "at", "feet", "issued_at")
    for gauge_id, kind, at, feet, when in rows.order_by("gauge_id", "at", "id").values_list(*columns):
        stages[gauge_id, kind].append(Stage(floor_minute(at), feet))
        if kind == DayKind.FORECAST and when is not None:
            issued[gauge_id] = min(issued.get(gauge_id, FAR), floor_minute(when))
    found = []
    for link in links:
        gauge = gauges.get(link.site)
        trusted = gauge is not None and gauge.category not in NOT_CURRENT
        read, ahead = (
            stages[gauge.pk, kind] if gauge is not None and trusted else []
            for kind in (DayKind.OBSERVED, DayKind.FORECAST)
        )
        name = str(gauge) if gauge is not None else link.site
        when = issued.get(gauge.pk) if gauge is not None and trusted else None
        found.append(River(link.property_id, link.site, name, _gate(link, gauge), read, ahead, trusted, when))
    return found


def _gate(link: PropertyGauge, gauge: Gauge | None) -> Gate:
    """The property's own level; without one the gauge's action stage, where the manager lets it stand in."""
    if link.level_ft is not None or not link.use_action or gauge is None or gauge.action_ft is None:
        return Gate(link.level_ft, link.margin_ft, link.hours_down)
    return Gate(gauge.action_ft, link.margin_ft, link.hours_down, by_action=True)


def stages_by_hour(
    known: Iterable[River], place: dict[int, int], first: int, count: int, now: datetime
) -> tuple[Floats, int]:
    """Highest stage by place and hour, and the minute at which the first good reading or forecast is none any more
    (FAR: there is none)."""
    rows, stale_at, minute = np.full((len(place), count), np.nan), FAR, floor_minute(now)
    for river in known:
        rows[place[river.property]] = stage_hours(first, count, river.read, river.ahead, minute)
        if river.read and minute - river.read[-1].at <= GOOD_FOR:
            stale_at = min(stale_at, river.read[-1].at + GOOD_FOR + 1)
            if river.issued is not None:
                stale_at = min(stale_at, river.issued + int(OLDEST.total_seconds()) // 60 + 1)
    return rows, stale_at


def water_coming(holding: Holding, now: datetime) -> list[dict[str, Any]]:
    """What the rivers do to the holding's properties, the most pressing first; properties without a gauge are left out.

    One dict a property: property, name, gauge, state (coming, in, clear, unknown, no_level), level_ft, stage_ft,
    crest_ft, the minutes stage_at, crest_at, passes_at, out_by (None where not known), `sentences`, and `out`: what
    stands there, each with what, job, begin_by and its sentence."""
    links = PropertyGauge.objects.filter(holding=holding)
    places = dict(links.values_list("property_id", "property__name"))
    zones = dict(links.values_list("property_id", "property__zone"))
    known = rivers(places, now)
    comings = {river.property: coming_to(river.gate, river.read, river.ahead, floor_minute(now)) for river in known}
    standing = _standing(holding, {pk for pk, coming in comings.items() if coming is not None})
    found = [
        _told(
            river,
            comings[river.property],
            standing[river.property],
            places[river.property],
            Names(zone=zones[river.property] or holding.zone, year=now.year),
            floor_minute(now),
        )
        for river in known
    ]
    return sorted(found, key=lambda one: (one["out_by"] is None, one["out_by"] or 0, one["name"], one["property"]))


def _told(
    river: River, coming: Coming | None, standing: Sequence[Standing], name: str, names: Names, now: int
) -> dict[str, Any]:
    last = river.read[-1] if river.read else None
    level = "its action stage" if river.gate.by_action else "the level set for it"
    told: dict[str, Any] = {
        "property": river.property,
        "name": name,
        "gauge": river.name,
        "level_ft": river.gate.level_ft,
        "by_action": river.gate.by_action,
        "stage_ft": last.feet if last is not None and now - last.at <= GOOD_FOR else None,
        "stage_at": last.at if last is not None else None,
        "crest_ft": coming.crest.feet if coming else None,
        "crest_at": coming.crest.at if coming else None,
        "passes_at": coming.passes_at if coming else None,
        "out_by": coming.out_by if coming else None,
        "out": [],
    }
    if river.gate.level_ft is None:
        said = "no_level", f"{name}: no stage is set at which its access goes under ({river.name}). Set one."
    elif not river.trusted:
        said = (
            "unknown",
            f"{name}: the Weather Service has no good word of {river.name}. Its stage is not known; look first.",
        )
    elif last is None or now - last.at > GOOD_FOR:
        since = f" since {names.instant(last.at)}" if last is not None else ""
        said = "unknown", f"{name}: no reading of {river.name}{since}. Its stage is not known; look before you drive."
    elif coming is None:
        until = names.instant(river.ahead[-1].at) if river.ahead and river.ahead[-1].at > now else ""
        ahead = f"; by the forecast it stays below until {until}" if until else "; there is no forecast for it"
        said = "clear", f"{name}: {river.name} stands at {last.feet:g} ft, below {river.gate.level_ft:g} ft{ahead}."
    elif last.feet >= river.gate.level_ft:
        said = (
            "in",
            f"{name}: {river.name} stands at {last.feet:g} ft, {river.gate.level_ft:g} ft is {level}. Stay out.",
        )
    else:
        said = (
            "coming",
            (
                f"{name}: {river.name} passes {river.gate.level_ft:g} ft ({level}) {names.instant(coming.passes_at)} "
                f"at the earliest and crests at {coming.crest.feet:g} ft {names.instant(coming.crest.at)}. "
                f"Everything is to be out by {names.instant(coming.out_by)}."
            ),
        )
    told["state"], sentence = said
    told["sentences"] = [sentence]
    if coming is not None:
        told["out"] = [_leave(begin, one, names, now, told["state"]) for begin, one in leave_by(coming, standing)]
    return told


def _leave(begin: int, one: Standing, names: Names, now: int, state: str) -> dict[str, Any]:
    if state == "in":
        sentence = f"{one.what} stands there still. Nobody drives into the water for it."
    elif begin < now:
        sentence = (
            f"{one.what}: it takes {one.minutes} min, which is no longer sure to do. Go only while the way is dry."
        )
    else:
        sentence = f"{one.what}: begin by {names.instant(begin)}, it takes {one.minutes} min."
    return {"what": one.what, "job": one.job, "begin_by": begin, "sentence": sentence}


def _standing(holding: Holding, properties: set[int]) -> defaultdict[int, list[Standing]]:
    """Machines that stand there, feeding places, and fences that were built and not taken down, as their jobs."""
    found: defaultdict[int, list[Standing]] = defaultdict(list)
    if not properties:
        return found
    machines = Machine.objects.filter(holding=holding, at_property__in=properties).order_by("name", "id")
    for name, place in machines.values_list("name", "at_property_id"):
        found[place].append(Standing(name, MACHINE_MIN))
    plots = Plot.objects.filter(holding=holding, property__in=properties)
    feeders = plots.filter(kind=PlotKind.FEEDING_PLACE).order_by("name", "id")
    for name, place in feeders.values_list("name", "property_id"):
        found[place].append(Standing(f"the feeder at {name}", FEEDER_MIN))
    jobs = Job.objects.filter(holding=holding, plot__property__in=properties)
    built = jobs.filter(operation="fence", reckoning__state=STANDS).values("season_id")
    down = jobs.filter(operation__in=TO_TAKE_DOWN, season_id__in=built, reckoning__state__in=AHEAD).order_by("id")
    for pk, title, plot, place, minutes in down.values_list(
        "id", "title", "plot__name", "plot__property_id", "duration_min"
    ):
        found[place].append(Standing(f"{title} ({plot})", minutes, pk))
    return found
