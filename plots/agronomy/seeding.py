"""Seed: how much of a bag is live, how far apart it falls, how many bags a plot takes."""

from __future__ import annotations

import math

from plots.units import ACRE_SQ_FT

ROW_INCHES_AN_ACRE = ACRE_SQ_FT * 144
"""Inches of row on an acre of rows an inch apart: 6,272,640."""


def pure_live_seed(purity: float, germination: float, dormant: float = 0.0) -> float:
    """The share of a bag that may come up: purity x (germination + hard or dormant seed), all as shares of 1.

    Dormant seed counts as viable (University of Georgia Forages); a coating counts in the bag's weight, so that the
    purity on the tag is lower (Purdue FNR)."""
    return purity * (germination + dormant)


def bulk_lb(live_lb: float, live_share: float) -> float:
    """Pounds out of the bag for so many pounds of pure live seed."""
    return live_lb / live_share


def spacing_in(row_in: float, seeds_per_acre: float) -> float:
    """Inches from seed to seed in the row."""
    return ROW_INCHES_AN_ACRE / (row_in * seeds_per_acre)


def seeds_to_drop(stand_per_acre: float, emergence: float) -> float:
    """Seeds an acre for a wanted stand, where the share `emergence` of them comes up."""
    return stand_per_acre / emergence


def acres_per_bag(seeds_in_bag: float, seeds_per_acre: float) -> float:
    return seeds_in_bag / seeds_per_acre


def whole_bags(amount: float, in_bag: float) -> int:
    """Bags to open: whole ones, the last perhaps not used up."""
    return math.ceil(amount / in_bag - 1e-9)
