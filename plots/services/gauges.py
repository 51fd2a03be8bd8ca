"""Bring river stages in: each gauge is asked once however many properties depend on it.

The Survey's newer service goes first, the older one (its end is announced for early 2027) only where that gives
nothing. The Weather Service adds the stages of its flood categories, its word for now and what is to come. Nothing here
says whether a stage is still good: readings carry their own time, and whoever reads them judges their age.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from urllib.parse import urlencode

from django.conf import settings
from django.db import transaction
from django.db.models import Min

from core.models import HoldingState
from core.services.facts import touch
from plots.forecasts import Unusable
from plots.forecasts.gauges import FloodState, Stage, flood_state, stage_forecast, stages
from plots.models import DayKind, Gauge, Plot, PropertyGauge, Reading
from plots.services.fetching import Failed, ask

logger = logging.getLogger("readyground.weather")

BEHIND_H = 72
KEPT = timedelta(days=10)
STALE = timedelta(hours=24)


def find_gauges() -> list[int]:
    """Ids of the gauges that properties depend on, each once; a site named for the first time gets its row.

    Without READYGROUND_CONTACT nothing is asked, and holdings whose clock stands ask for nothing."""
    if not settings.CONTACT:
        return []
    live = PropertyGauge.objects.filter(holding__clock_at=None, holding__state=HoldingState.ACTIVE)
    sites = sorted(set(live.values_list("site", flat=True)))
    return sorted(Gauge.objects.get_or_create(site=site)[0].pk for site in sites)


def renew_gauge(gauge: Gauge, now: datetime) -> bool:
    """Ask for one gauge's stages and store what is new; True where anything was. A failure changes nothing."""
    observed = _readings(gauge.site)
    state = _state(gauge.site)
    if state is not None and not observed and state.feet is not None and state.at is not None:
        observed = (Stage(state.at, state.feet),)
    issued, ahead = _ahead(gauge.site, state, now)
    with transaction.atomic():
        Gauge.objects.select_for_update(no_key=True).get(pk=gauge.pk)
        changed = _store_observed(gauge.pk, observed, now)
        changed |= issued is not None and _store_forecast(gauge.pk, issued, ahead)
        if state is not None:
            changed |= _store_state(gauge, state, now)
        if changed:
            _wake(gauge.site)
    return changed


def _readings(site: str) -> tuple[Stage, ...]:
    """Stages of the last three days from the first of the two services that has any now."""
    newer = {
        "f": "json",
        "monitoring_location_id": f"USGS-{site}",
        "parameter_code": "00065",
        "time": f"PT{BEHIND_H}H",
        "limit": 1000,
    }
    older = {"format": "json", "sites": site, "parameterCd": "00065", "period": f"PT{BEHIND_H}H"}
    for url in (f"{settings.USGS_URL}?{urlencode(newer)}", f"{settings.USGS_OLDER_URL}?{urlencode(older)}"):
        try:
            answer = ask(url, stages)
            found = stages(answer.said) if answer.fresh else ()
        except (Failed, Unusable) as failure:
            logger.warning("weather: gauge %s: %s", site, failure)
            continue
        if found:
            return found
    return ()


def _state(site: str) -> FloodState | None:
    try:
        answer = ask(f"{settings.NWPS_URL}/{site}", flood_state)
        return flood_state(answer.said) if answer.fresh else None
    except (Failed, Unusable) as failure:
        logger.warning("weather: gauge %s: %s", site, failure)
        return None


def _ahead(site: str, state: FloodState | None, now: datetime) -> tuple[datetime | None, tuple[Stage, ...]]:
    """(time of issue, stages to come): the whole forecast, or else its crest, heard now; (None, ()) without either."""
    if state is None or state.crest is None:
        return None, ()
    try:
        answer = ask(f"{settings.NWPS_URL}/{site}/stageflow/forecast", stage_forecast)
        if answer.fresh:
            issued, ahead = stage_forecast(answer.said)
            return _instant(issued), ahead
    except (Failed, Unusable) as failure:
        logger.warning("weather: gauge %s: %s", site, failure)
    return now, (state.crest,)


def _store_observed(gauge_id: int, found: Iterable[Stage], now: datetime) -> bool:
    """Readings are revised for a while, so one that is stored is overwritten; None from the future is kept. Those that
    were over a plot stay: somebody may look at its stand weeks later."""
    old_ones = Reading.objects.filter(gauge_id=gauge_id, kind=DayKind.OBSERVED, at__lt=now - KEPT)
    over = _least_flood_stage(gauge_id)
    (old_ones if over is None else old_ones.filter(feet__lt=over)).delete()
    old = dict(Reading.objects.filter(gauge_id=gauge_id, kind=DayKind.OBSERVED).values_list("at", "feet"))
    rows = [
        Reading(gauge_id=gauge_id, at=_instant(stage.at), kind=DayKind.OBSERVED, feet=stage.feet)
        for stage in found
        if _instant(stage.at) <= now + timedelta(minutes=10) and old.get(_instant(stage.at)) != stage.feet
    ]
    Reading.objects.bulk_create(
        rows, update_conflicts=True, unique_fields=["gauge", "at", "kind"], update_fields=["feet"]
    )
    return bool(rows)


def _least_flood_stage(gauge_id: int) -> float | None:
    """The least stage at which any plot by this gauge is under water."""
    sites = PropertyGauge.objects.filter(site__in=Gauge.objects.filter(pk=gauge_id).values("site"))
    plots = Plot.objects.filter(property__in=sites.values("property"))
    least: float | None = plots.aggregate(least=Min("flood_ft"))["least"]
    return least


def _store_forecast(gauge_id: int, issued: datetime, ahead: Sequence[Stage]) -> bool:
    """A newer forecast takes the place of the one before, whole. A crest alone gives way to a whole forecast, and takes
    the place of none that still stands."""
    rows = Reading.objects.filter(gauge_id=gauge_id, kind=DayKind.FORECAST)
    old = list(rows.values_list("issued_at", flat=True))
    last = max((at for at in old if at is not None), default=None)
    if last is not None and len(old) > 1 and last >= (issued if len(ahead) > 1 else issued - STALE):
        return False
    rows.delete()
    Reading.objects.bulk_create(
        Reading(gauge_id=gauge_id, at=_instant(stage.at), kind=DayKind.FORECAST, feet=stage.feet, issued_at=issued)
        for stage in ahead
    )
    return True


def _store_state(gauge: Gauge, state: FloodState, now: datetime) -> bool:
    said = {
        "name": state.name[:120] or gauge.name,
        "lid": state.lid[:10] or gauge.lid,
        "category": state.said[:30],
        **{f"{name}_ft": state.levels.get(name) for name in ("action", "minor", "moderate", "major")},
    }
    changed = any(getattr(gauge, name) != value for name, value in said.items())
    Gauge.objects.filter(pk=gauge.pk).update(**said, told_at=now)
    return changed


def _wake(site: str) -> None:
    """The hours of every property that depends on the gauge are worked out anew, holdings in id order."""
    readers: dict[int, list[str]] = {}
    rows = PropertyGauge.objects.filter(site=site).order_by("holding_id", "property_id")
    for holding_id, property_id in rows.values_list("holding_id", "property_id"):
        readers.setdefault(holding_id, []).append(f"property:{property_id}")
    for holding_id, keys in readers.items():
        touch(holding_id, keys)


def _instant(minute: int) -> datetime:
    return datetime.fromtimestamp(minute * 60, UTC)
