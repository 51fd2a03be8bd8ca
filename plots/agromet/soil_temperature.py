"""Daily mean temperature of bare soil at a depth, from air temperature: a hint where nobody has read a thermometer.

Potter and Williams, Predicting daily mean soil temperatures in the EPIC simulation model, Agronomy Journal 86 (1994),
1006-1011, in the form in which public crop models carry it: the surface follows the mean of five days, in which the day
itself stands twice, and every depth moves half way a day to between surface and yearly mean. Degrees Celsius.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

LAG = 0.5
SETTLING = 8
WET_AT_FIRST = 0.1
REMEMBERED = 30
"""Days whose share of wet ones is remembered; a run begins at least so many days before the first day that matters."""


@dataclass(frozen=True, slots=True)
class AirDay:
    """High, low and mean of the air in degrees Celsius, and whether rain fell."""

    high_c: float
    low_c: float
    mean_c: float
    wet: bool


def damping_depth_mm(bulk_density: float, water_mm: float, profile_mm: float) -> float:
    """How deep the warmth of the surface reaches: by g/cm3, and millimetres of plant-available water in the profile."""
    deepest = 1000.0 + 2500.0 * bulk_density / (bulk_density + 686.0 * math.exp(-5.63 * bulk_density))
    scaled = max(0.1, water_mm) / ((0.356 - 0.144 * bulk_density) * profile_mm)
    return deepest * math.exp(math.log(500.0 / deepest) * ((1.0 - scaled) / (1.0 + scaled)) ** 2)


def soil_temperatures(
    days: Sequence[AirDay], *, yearly_mean_c: float, depth_mm: float, damping_mm: float
) -> list[tuple[float, float]]:
    """(surface, at depth) at each day. The first weeks still tell of the start; see `REMEMBERED`."""
    ratio = depth_mm / damping_mm
    share = ratio / (ratio + math.exp(-0.8669 - 2.0775 * ratio))
    found: list[tuple[float, float]] = []
    if not days:
        return found
    recent, there = [days[0].mean_c] * 5, days[0].mean_c
    wet: list[bool] = []
    dry_first = AirDay(days[0].high_c, days[0].low_c, days[0].mean_c, wet=False)
    for at, day in enumerate([*[dry_first] * SETTLING, *days]):
        often = WET_AT_FIRST
        if at >= SETTLING:
            wet = [*wet[1 - REMEMBERED :], day.wet]
            often = sum(wet) / len(wet)
        today = often * (day.mean_c - day.low_c) + day.low_c if day.wet else _dry(often, day)
        recent = [today, today, *recent[1:4]]
        surface = sum(recent) / 5.0
        there = LAG * there + (1.0 - LAG) * (share * (yearly_mean_c - surface) + surface)
        if at >= SETTLING:
            found.append((surface, there))
    return found


def _dry(often: float, day: AirDay) -> float:
    return often * (day.high_c - day.mean_c) + day.mean_c + 2.0
