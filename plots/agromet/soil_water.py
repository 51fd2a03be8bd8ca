"""A soil-water bucket by texture: a hint how wet the ground is, never more than that; the hand test goes before it.

Depths in inches of water, FAO-56 chapter 8 in form. Available water by texture: New Mexico State University irrigation
table (field capacity and wilting point by weight, bulk density).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

TEXTURES = {
    "sand": (9.1, 3.9, 1.627),
    "loamy sand": (11.6, 5.1, 1.584),
    "sandy loam": (13.9, 6.2, 1.533),
    "sandy clay loam": (20.0, 9.5, 1.471),
    "loam": (22.3, 10.2, 1.395),
    "silt loam": (27.6, 12.5, 1.278),
    "clay loam": (26.4, 12.5, 1.354),
    "silty clay loam": (32.1, 15.1, 1.239),
    "silty clay": (31.2, 15.0, 1.279),
    "clay": (35.1, 17.2, 1.262),
}
"""By texture: field capacity and wilting point in percent of dry weight, bulk density in g/cm3."""


def available_in_per_ft(texture: str) -> float:
    """Plant-available water in inches a foot of soil. KeyError for a texture that is not listed."""
    capacity, wilting, density = TEXTURES[texture]
    return (capacity - wilting) / 100.0 * density * 12.0


def upper_tillage_limit_pct(organic_matter_pct: float, clay_pct: float) -> float:
    """Water in percent of dry weight above which tilling harms the structure.

    Source: Netherlands Journal of Agricultural Science 36 (1988), Uruguayan soils: 7.5 + 1.91 OM + 0.34 clay."""
    return 7.5 + 1.91 * organic_matter_pct + 0.34 * clay_pct


@dataclass(frozen=True, slots=True)
class Step:
    """One day's water in inches: what the ground lacks to field capacity at its end, and where the rest went."""

    deficit: float
    evaporated: float
    drained: float
    ran_off: float


def bucket(
    rain_in: Sequence[float | None],
    reference_et_in: Sequence[float | None],
    *,
    holds_in: float,
    start_deficit_in: float,
    crop: float = 1.0,
    easy_share: float = 0.5,
    runoff_share: float = 0.0,
) -> list[Step | None]:
    """Day by day the deficit below field capacity of a bucket that holds `holds_in`.

    Rain that does not fit drains. Within `easy_share` of the store plants draw freely, below it ever less. From the
    first day whose rain or evapotranspiration is missing on there is no answer (None): a gap stays a gap.
    """
    if not 0 <= start_deficit_in <= holds_in:
        raise ValueError(f"A bucket of {holds_in:g} in cannot lack {start_deficit_in:g} in.")
    steps: list[Step | None] = []
    deficit: float | None = start_deficit_in
    for rain, et in zip(rain_in, reference_et_in, strict=True):
        if deficit is None or rain is None or et is None:
            deficit = None
            steps.append(None)
            continue
        ran_off = rain * runoff_share
        ease = min((holds_in - deficit) / ((1.0 - easy_share) * holds_in), 1.0)
        wanted = ease * crop * et
        after = deficit - (rain - ran_off)
        drained = max(-(after + wanted), 0.0)
        evaporated = min(wanted, holds_in - after)
        deficit = min(max(after + evaporated, 0.0), holds_in)
        steps.append(Step(deficit, evaporated, drained, ran_off))
    return steps
