"""How long a machine takes, and how fast it goes."""

from __future__ import annotations

from plots.capacity import acres_per_hour

FEET_A_SECOND_MPH = 15 / 22
"""A foot a second in miles an hour: 3,600 / 5,280."""


def machine_hours(acres: float, width_ft: float, speed_mph: float, efficiency: float) -> float:
    """Hours for so many acres at the effective field capacity (University of Kentucky AEN-73, 1991)."""
    return acres / acres_per_hour(width_ft, speed_mph, efficiency)


def speed_mph(course_ft: float, seconds: float) -> float:
    """Travel speed over a measured course: feet x 60 / (seconds x 88)."""
    return course_ft / seconds * FEET_A_SECOND_MPH


def seconds_for(course_ft: float, speed: float) -> float:
    """Seconds that a course takes at a speed in mph."""
    return course_ft / speed * FEET_A_SECOND_MPH
