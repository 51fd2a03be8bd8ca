"""A feed round: pounds and bags for the days between two rounds, and when a feeder runs empty."""

from __future__ import annotations

DRY_FORAGE_SHARE_A_DAY = 0.04
"""A deer eats about 4 lb of dry forage a day for each 100 lb of its weight, of everything together (deer biologist of
Mississippi State University, in a magazine). This is no rate for a feeder; none from an extension source was found."""


def round_lb(feeders: int, lb_per_day: float, days: float) -> float:
    return feeders * lb_per_day * days


def lasts_days(hopper_lb: float, lb_per_day: float) -> float:
    return hopper_lb / lb_per_day


def dry_forage_lb(weight_lb: float) -> float:
    """What a deer of this weight eats in a day, all told."""
    return weight_lb * DRY_FORAGE_SHARE_A_DAY
