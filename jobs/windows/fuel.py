"""Fine dead fuel moisture by hour, for a burn whose plan names it. Pure."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from jobs.windows.hours import HOUR, Floats, Hours
from plots.agromet.fuel_moisture import NotCovered, fuel_moisture_pct

EPOCH = datetime.fromisoformat("1970-01-01T00:00:00+00:00")


def moisture_hours(
    hours: Hours, place: int, zone: str, *, shaded: bool, aspect_deg: float, slope_pct: float, since: int
) -> Floats:
    """Percent by hour of one place from the minute `since` on; NaN where the published tables have no figure."""
    found = np.full(hours.count, np.nan)
    temp, humidity = hours.of("temp_f")[place], hours.of("humidity_pct")[place]
    for at in range(max((since - hours.first) // HOUR, 0), hours.count):
        local = (EPOCH + timedelta(minutes=hours.first + HOUR * at)).astimezone(ZoneInfo(zone))
        try:
            found[at] = fuel_moisture_pct(
                float(temp[at]),
                float(humidity[at]),
                month=local.month,
                hour=local.hour + local.minute / 60,
                shaded=shaded,
                aspect_deg=aspect_deg,
                slope_pct=slope_pct,
            )
        except NotCovered:
            continue
    return found
