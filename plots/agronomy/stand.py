"""Stand counts: how long a row a thousandth acre is, and how many plants an acre stand.

Row lengths as the University of Tennessee prints them (Checking Corn Populations, 2011); 150 plants as the University
of Illinois counts them; samples a field as North Carolina State University asks for (Evaluating Crop Stand)."""

from __future__ import annotations

from plots.units import ACRE_SQ_FT

SAMPLES = ((15, 3), (30, 5), (50, 7))
"""Up to so many acres, so many places are counted; nothing is published for larger fields."""


def thousandth_acre_ft(row_in: float) -> float:
    """Feet of row that are 1/1000 acre: 522.72 / row width in inches."""
    return ACRE_SQ_FT * 12 / 1000 / row_in


def row_feet_per_acre(row_in: float) -> float:
    """Feet of row on an acre."""
    return ACRE_SQ_FT * 12 / row_in


def plants_by_walk(plants: float, walked_ft: float, row_in: float) -> float:
    """Plants an acre where so many plants stood in one row on so many feet."""
    return plants * row_feet_per_acre(row_in) / walked_ft


def samples_for(acres: float) -> int | None:
    """In how many places a field is counted; None where nothing is published."""
    return next((count for most, count in SAMPLES if acres <= most), None)


def feet_and_inches(feet: float) -> str:
    """ "17 ft 5 in", to the nearest inch."""
    inches = round(feet * 12)
    return f"{inches // 12} ft {inches % 12} in"
