"""Driving times between places: typed or by a stated road factor, closed under the triangle inequality. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil, isfinite

ROAD_FACTOR = 1.3
"""Miles of road to a mile of straight line: common practice, the holding's to overwrite."""


def road_minutes(straight_miles: float, *, mph: float, factor: float = ROAD_FACTOR) -> int:
    """Whole minutes, rounded up, over a road `factor` times as long as the straight line."""
    if not (isfinite(straight_miles) and straight_miles >= 0 and mph > 0 and factor >= 1):
        raise ValueError("Miles lie at or above 0, the speed above 0 and the road factor at or above 1.")
    return ceil(straight_miles * factor / mph * 60)


@dataclass(frozen=True, slots=True)
class Roads:
    """Minutes of driving from place to place, every pair known and no detour shorter than the way itself.

    A trailer goes at `haul_pct` per cent of the time and is hitched or loaded in `hitch_min`."""

    minutes: Mapping[tuple[str, str], int]
    places: tuple[str, ...]
    haul_pct: int = 125
    hitch_min: int = 10

    def __post_init__(self) -> None:
        if self.haul_pct < 100 or self.hitch_min < 0:
            raise ValueError("A trailer is no faster than a car, and hitching takes no less than no time.")
        for a in self.places:
            for b in self.places:
                if self.minutes.get((a, b), -1) < 0 or (a == b and self.minutes[a, b] != 0):
                    raise ValueError(f"The way from {a} to {b} has no known time. Type it, or give both a point.")
        for via in self.places:
            for a in self.places:
                for b in self.places:
                    if self.minutes[a, b] > self.minutes[a, via] + self.minutes[via, b]:
                        raise ValueError(f"From {a} to {b} is longer than by {via}: close the table first.")

    def drive(self, a: str, b: str) -> int:
        return self.minutes[a, b]

    def haul(self, a: str, b: str) -> int:
        """Minutes to bring a machine from one place to another; none where it stands already."""
        return 0 if a == b else self.hitch_min + -(-self.minutes[a, b] * self.haul_pct // 100)

    def fetch(self, start: str, machine_at: str, end: str) -> int:
        """Minutes from where somebody is, by the place where the machine stands, to the job with it."""
        return self.drive(start, machine_at) + self.haul(machine_at, end)


def closed(
    typed: Mapping[tuple[str, str], int], places: Iterable[str], *, haul_pct: int = 125, hitch_min: int = 10
) -> Roads:
    """Roads over the typed times, each replaced by the shortest detour where there is one; what is typed one way only
    counts for both. ValueError where two places have no way between them."""
    names = tuple(sorted(set(places)))
    far = 10**9
    best = {(a, b): 0 if a == b else typed.get((a, b), typed.get((b, a), far)) for a in names for b in names}
    for via in names:
        for a in names:
            for b in names:
                best[a, b] = min(best[a, b], best[a, via] + best[via, b])
    for (a, b), minutes in best.items():
        if minutes >= far:
            raise ValueError(f"There is no way from {a} to {b}. Type its minutes, or give both a point.")
    return Roads(best, names, haul_pct, hitch_min)
