"""What the labels of a mix ask of the hours: wind, rain-free hours, cold nights, heights, droplets. Pure.

A typed figure goes in the place of the general default, also where it is the wider one; a material of the mix whose
figure nobody typed brings the default along. Of the mix the stricter binds."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from jobs.windows.limits import Between, DryAhead, Limit, Lowest, Rank, Settled, Verdict, WhereKnown

WIND, DRY_LEAF, NIGHT, DROPLET = "spray_wind", "spray_dry_leaf", "label_night", "label_droplet"
CROP, WEEDS = "crop_height_in", "weed_height_in"
DROPLETS = ("very_fine", "fine", "medium", "coarse", "very_coarse", "extremely_coarse", "ultra_coarse")
"""Droplet classes, the finest first."""
NIGHT_HOURS = 24
SOURCE = "label-law"


@dataclass(frozen=True, slots=True)
class LabelHours:
    """What was typed of one label that bears on hours; None, or "" in `droplet`, is not typed."""

    wind_least_mph: float | None = None
    wind_most_mph: float | None = None
    rain_fast_hours: float | None = None
    night_low_f: float | None = None
    crop_least_in: float | None = None
    crop_most_in: float | None = None
    weed_most_in: float | None = None
    droplet: str = ""


def label_limits(
    labels: Sequence[LabelHours], defaults: Mapping[str, Limit], droplets: Collection[str] = ("",)
) -> list[Limit]:
    """The limits that the labels put in the place of the defaults and step's limits of the same key (`defaults`), and
    those for cold nights and droplets.

    Nothing is given for a key of which no label says anything: the default stays. `droplets` are the classes that the
    nozzles of the sprayers give that may go, "" where nobody said."""
    replacing = (_wind, _dry_leaf, _crop, _weeds)
    found = [limit for find in replacing for limit in find(labels, defaults)]
    return [*found, *_night(labels), *_droplet(labels, droplets)]


def _wind(labels: Sequence[LabelHours], defaults: Mapping[str, Limit]) -> list[Limit]:
    typed = [label for label in labels if label.wind_least_mph is not None or label.wind_most_mph is not None]
    if not typed:
        return []
    general = defaults.get(WIND)
    band = general.rule if general is not None and isinstance(general.rule, Between) else Between("wind_mph")
    least = max(band.least if label.wind_least_mph is None else label.wind_least_mph for label in labels)
    most = min(band.most if label.wind_most_mph is None else label.wind_most_mph for label in labels)
    return [Limit(WIND, "wind", "mph", 2.0, Between("wind_mph", least, most), SOURCE, Rank.LABEL, Verdict.STOP)]


def _dry_leaf(labels: Sequence[LabelHours], defaults: Mapping[str, Limit]) -> list[Limit]:
    if all(label.rain_fast_hours is None for label in labels):
        return []
    general = defaults.get(DRY_LEAF)
    rule = general.rule if general is not None and isinstance(general.rule, DryAhead) else DryAhead(0, 0.0)
    hours = [
        rule.hours_ahead if label.rain_fast_hours is None else math.ceil(label.rain_fast_hours) for label in labels
    ]
    dry = DryAhead(max(hours), rule.most_in)
    return [Limit(DRY_LEAF, "rain after the spray", "in", 0.1, dry, SOURCE, Rank.LABEL, Verdict.STOP)]


def _night(labels: Sequence[LabelHours]) -> list[Limit]:
    typed = [label.night_low_f for label in labels if label.night_low_f is not None]
    if not typed:
        return []
    cold = Lowest("temp_f", NIGHT_HOURS, max(typed))
    return [Limit(NIGHT, "lowest temperature of the coming day", "F", 5.0, cold, SOURCE, Rank.LABEL, Verdict.STOP)]


def _crop(labels: Sequence[LabelHours], defaults: Mapping[str, Limit]) -> list[Limit]:
    """The crop's size window: a height that nobody has read is none."""
    if all(label.crop_least_in is None and label.crop_most_in is None for label in labels):
        return []
    general = defaults.get(CROP)
    band = general.rule if general is not None and isinstance(general.rule, Between) else Between(CROP)
    least = max(band.least if label.crop_least_in is None else label.crop_least_in for label in labels)
    most = min(band.most if label.crop_most_in is None else label.crop_most_in for label in labels)
    return [Limit(CROP, "height of the crop", "in", 2.0, Between(CROP, least, most), SOURCE, Rank.LABEL, Verdict.STOP)]


def _weeds(labels: Sequence[LabelHours], defaults: Mapping[str, Limit]) -> list[Limit]:
    """Weeds too tall are not controlled, which is advice; where nobody measured them, it is told."""
    typed = [label.weed_most_in for label in labels if label.weed_most_in is not None]
    if not typed:
        return []
    general = defaults.get(WEEDS)
    if len(typed) < len(labels) and general is not None and isinstance(general.rule, WhereKnown):
        typed.append(general.rule.band.most)
    band = WhereKnown(Between(WEEDS, float("-inf"), min(typed)))
    return [Limit(WEEDS, "height of the weeds", "in", 1.0, band, SOURCE, Rank.LABEL, Verdict.ADVICE)]


def _droplet(labels: Sequence[LabelHours], droplets: Collection[str]) -> list[Limit]:
    """The finest class that every label of the mix allows, beside the finest that the nozzles may give."""
    typed = [DROPLETS.index(label.droplet) for label in labels if label.droplet]
    if not typed:
        return []
    wanted = max(typed)
    known = [DROPLETS.index(one) for one in droplets if one]
    distance = float(min(known) - wanted) if known and len(known) == len(droplets) else None
    what = f"droplets of the nozzles, {DROPLETS[wanted].replace('_', ' ')} or coarser by the label,"
    return [Limit(DROPLET, what, "classes", 1.0, Settled(distance), SOURCE, Rank.LABEL, Verdict.STOP)]
