"""The plain facts that labels and sprays give to the rules. Whole minutes since 1970-01-01 UTC."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

RULES = "2026-11-25"
"""The version of these rules: every verdict carries it."""

SPRAYS = frozenset({"spray", "spot_spray"})
CROPS_SOWN = frozenset({"plant", "sow", "overseed"})


@dataclass(frozen=True, slots=True)
class ActiveShare:
    """How much of an active a unit of the material holds; the most per acre and calendar year, None where not typed."""

    per_unit: float
    unit: str
    season_most: float | None = None


@dataclass(frozen=True, slots=True)
class PlantWait:
    """Days before a crop may be planted; with `after_rain_in` they begin at the end of the first day with that rain."""

    days: float
    after_rain_in: float | None = None

    def or_longer(self, other: PlantWait | None) -> PlantWait:
        """A wait that is as long as either, whenever the rain comes: the more days, begun after the more rain."""
        if other is None:
            return self
        rains = [rain for rain in (self.after_rain_in, other.after_rain_in) if rain is not None]
        return PlantWait(max(self.days, other.days), max(rains, default=None))


@dataclass(frozen=True, slots=True)
class LabelFact:
    """A material with what was typed from its label; None, or False in `typed` and `wash_known`, is not known."""

    material: int
    name: str
    actives: tuple[str, ...] = ()
    typed: bool = False
    entry_hours: float | None = None
    till_wait_days: float | None = None
    mow_wait_days: float | None = None
    wash_known: bool = False
    wash_before: tuple[str, ...] = ()
    shares: Mapping[str, ActiveShare] = field(default_factory=dict)
    source: str = ""
    wind_least_mph: float | None = None
    wind_most_mph: float | None = None
    rain_fast_hours: float | None = None
    night_low_f: float | None = None
    over_crops: tuple[str, ...] = ()
    plant_back: Mapping[str, PlantWait] = field(default_factory=dict)
    """By crop, in small letters; "" is any that the label does not name."""
    plant_back_at_least: PlantWait | None = None
    """Before every crop: a wait that was typed for a name that no crop has, and so may speak of any."""

    @property
    def named(self) -> bool:
        return self.material != 0


UNNAMED = LabelFact(0, "a spray whose product nobody named")
"""In the place of the label where a spray was reported and nobody said of what."""


@dataclass(frozen=True, slots=True)
class Spray:
    """A spray as reported: begun (None: not), the ends of its parts, and whether more of it is to come.

    `rates` are units of material per acre by material id; None where nobody typed one. `machines` are those that may
    have carried it. A job still to be done has no ends."""

    job: int
    plot: int
    labels: tuple[LabelFact, ...]
    begun: int | None = None
    ends: tuple[int, ...] = ()
    finished: bool = False
    round: int | None = None
    rates: Mapping[int, float | None] = field(default_factory=dict)
    machines: frozenset[int] = frozenset()
    crop: str = ""
    residual: bool = False

    @property
    def last(self) -> int | None:
        return max(self.ends, default=None)


def names_of(text: str) -> tuple[str, ...]:
    """Names from a typed list, small letters. A comma inside a name is followed by no space: "2,4-D, glyphosate"."""
    return tuple(name for part in text.split(", ") if (name := part.strip().lower()))


def crop_name(crop: str) -> str:
    """A crop's key or name as labels are compared with it."""
    return crop.replace("_", " ").strip().lower()
