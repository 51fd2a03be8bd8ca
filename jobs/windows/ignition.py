"""When a burn can be lit at the latest, and whether its crew is ready by then. Pure; minutes since 1970-01-01 UTC.

The plan of the unit says how long it burns out, how long mop-up takes and how many people it needs; what the plan does
not say has no answer. The burn boss decides on the day; permit, dispatch and local law come first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jobs.hours import Stretch


@dataclass(frozen=True, slots=True)
class BurnPlan:
    """Minutes of burn-out, of mop-up (in light) and of the briefing; the least crew, never one person."""

    burn_out_min: int
    mop_up_min: int
    briefing_min: int
    least_crew: int

    def __post_init__(self) -> None:
        if min(self.burn_out_min, self.mop_up_min, self.briefing_min) < 0 or self.burn_out_min == 0:
            raise ValueError("Burn-out takes time, mop-up and briefing at least none.")
        if self.least_crew < 2:
            raise ValueError("A burn never has fewer than two people.")


@dataclass(frozen=True, slots=True)
class Crew:
    """Somebody who comes: free from a minute on, so many minutes away, and whether they said yes."""

    name: str
    free_from: int
    travel_min: int
    confirmed: bool = True


@dataclass(frozen=True, slots=True)
class Evening:
    """The answer for one window: `latest_ignition`, which of "prescription" and "light" binds, when the crew is ready.

    `short_min` above 0: it cannot be, by so many minutes; then `leave_by` is when everybody would have to leave.
    `crew_short`: so many people are missing; without them there is no burn whatever the hours say."""

    latest_ignition: int
    binds: str
    ready: int | None
    short_min: int
    leave_by: int
    crew_short: int

    @property
    def can_be(self) -> bool:
        return self.ready is not None and self.short_min == 0 and self.crew_short == 0


def evening(plan: BurnPlan, prescription: Stretch, light_ends: int, crew: Sequence[Crew]) -> Evening:
    """Whether a crew makes it in a stretch in prescription: all ash has to be cold while there is light.

    Only people who confirmed count. The crew is ready when the last of the least number has come and was briefed."""
    by_weather, by_light = prescription[1] - plan.burn_out_min, light_ends - plan.burn_out_min - plan.mop_up_min
    latest = min(by_weather, by_light)
    coming = sorted(one.free_from + one.travel_min for one in crew if one.confirmed)
    missing = max(plan.least_crew - len(coming), 0)
    ready = None if missing else max(coming[plan.least_crew - 1] + plan.briefing_min, prescription[0])
    farthest = max((one.travel_min for one in crew if one.confirmed), default=0)
    return Evening(
        latest_ignition=latest,
        binds="light" if by_light < by_weather else "prescription",
        ready=ready,
        short_min=max(max(prescription[0], ready or 0) - latest, 0),
        leave_by=latest - plan.briefing_min - farthest,
        crew_short=missing,
    )
