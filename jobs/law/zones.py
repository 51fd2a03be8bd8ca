"""Distances and areas that rules of spraying turn on.

Sources: 40 CFR 170; EPA's comparison of the application exclusion zone (2019) and the final rule of 4 October 2024;
7 CFR 110.3; Minnesota Department of Agriculture on spot applications. The droplets of the narrow zone: from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

WIDE_FT, NARROW_FT = 100.0, 25.0
FINE_VMD_MICRONS = 294.0
LOW_IN = 12.0
SPOT_UNDER_ACRES = 0.1

FAR_CARRYING = frozenset({"aerial", "air_blast", "fumigant", "smoke", "mist", "fog"})
GROUND = frozenset({"boom", "backpack", "hand"})


def exclusion_ft(method: str, *, vmd_microns: float | None, height_in: float | None) -> float:
    """The radius round the equipment in which nobody but handlers may be while it sprays, beyond the border too.

    What is not known counts as the wider: an unknown method, droplet or height is no leave."""
    if method not in GROUND or vmd_microns is None or vmd_microns < FINE_VMD_MICRONS:
        return WIDE_FT
    return NARROW_FT if height_in is None or height_in > LOW_IN else 0.0


def inside(distances_ft: Mapping[str, float | None], radius_ft: float) -> list[str]:
    """Who stands inside the zone, or where nobody knows how far away; sorted. At the radius itself one is outside."""
    if radius_ft <= 0:
        return []
    return sorted(who for who, feet in distances_ft.items() if feet is None or math.isnan(feet) or feet < radius_ft)


def is_spot(acres_of_day: Iterable[float | None], *, nursery: bool = False) -> bool:
    """Whether the sprays of one day together are a spot application: under a tenth of an acre, in no nursery.

    0.1 itself is none, and neither is an area that nobody measured."""
    areas: Sequence[float | None] = list(acres_of_day)
    if nursery or not areas:
        return False
    known = [area for area in areas if area is not None]
    return len(known) == len(areas) and math.fsum(known) < SPOT_UNDER_ACRES
