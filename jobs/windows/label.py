"""What the labels of a mix ask of the hours: wind, rain-free hours, cold nights. Pure.

A typed figure goes in the place of the general default, also where it is the wider one; a material of the mix whose
figure nobody typed brings the default along. Of the mix the stricter binds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from jobs.law.data import LabelFact
from jobs.windows.limits import Between, DryAhead, Limit, Lowest, Rank, Verdict

WIND, DRY_LEAF, NIGHT = "spray_wind", "spray_dry_leaf", "label_night"
NIGHT_HOURS = 24
SOURCE = "label-law"


def label_limits(labels: Sequence[LabelFact], defaults: Mapping[str, Limit]) -> list[Limit]:
    """The limits that the labels put in the place of the general defaults of the same key, and one for cold nights.

    `defaults` by key. Nothing is given for a key of which no label says anything: the default stays."""
    return [*_wind(labels, defaults), *_dry_leaf(labels, defaults), *_night(labels)]


def _wind(labels: Sequence[LabelFact], defaults: Mapping[str, Limit]) -> list[Limit]:
    typed = [label for label in labels if label.wind_least_mph is not None or label.wind_most_mph is not None]
    if not typed:
        return []
    general = defaults.get(WIND)
    band = general.rule if general is not None and isinstance(general.rule, Between) else Between("wind_mph")
    least = max(band.least if label.wind_least_mph is None else label.wind_least_mph for label in labels)
    most = min(band.most if label.wind_most_mph is None else label.wind_most_mph for label in labels)
    return [Limit(WIND, "wind", "mph", 2.0, Between("wind_mph", least, most), SOURCE, Rank.LABEL, Verdict.STOP)]


def _dry_leaf(labels: Sequence[LabelFact], defaults: Mapping[str, Limit]) -> list[Limit]:
    if all(label.rain_fast_hours is None for label in labels):
        return []
    general = defaults.get(DRY_LEAF)
    rule = general.rule if general is not None and isinstance(general.rule, DryAhead) else DryAhead(1, 0.0)
    hours = [
        rule.hours_ahead if label.rain_fast_hours is None else max(1, math.ceil(label.rain_fast_hours))
        for label in labels
    ]
    dry = DryAhead(max(hours), rule.most_in)
    return [Limit(DRY_LEAF, "rain after the spray", "in", 0.1, dry, SOURCE, Rank.LABEL, Verdict.STOP)]


def _night(labels: Sequence[LabelFact]) -> list[Limit]:
    typed = [label.night_low_f for label in labels if label.night_low_f is not None]
    if not typed:
        return []
    cold = Lowest("temp_f", NIGHT_HOURS, max(typed))
    return [Limit(NIGHT, "lowest temperature of the coming day", "F", 5.0, cold, SOURCE, Rank.LABEL, Verdict.STOP)]
