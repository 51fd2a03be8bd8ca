"""Sprayer output, the catch test and what goes into a tank.

Output in gallons an acre is 5940 x gallons a minute of one nozzle / (mph x nozzle spacing in inches) (Mesa County,
Colorado, Stationary Calibration Method for Boom Sprayers; 5940 is 43,560 x 12 / 88). The flow of a tip goes with the
square root of the pressure. One ounce caught on 1/128 acre is one gallon an acre, a gallon having 128 fluid ounces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from plots.units import ACRE_SQ_FT

OUNCES_A_GALLON = 128
GPA_FACTOR = ACRE_SQ_FT * 12 / 88
CATCH_SQ_FT = ACRE_SQ_FT / OUNCES_A_GALLON


def gallons_per_acre(nozzle_gpm: float, speed_mph: float, spacing_in: float) -> float:
    """Output of nozzles that each cover `spacing_in` of ground."""
    return GPA_FACTOR * nozzle_gpm / (speed_mph * spacing_in)


def nozzle_gpm(output_gpa: float, speed_mph: float, spacing_in: float) -> float:
    """The flow that each nozzle has to give."""
    return output_gpa * speed_mph * spacing_in / GPA_FACTOR


def flow_at(rated_gpm: float, rated_psi: float, psi: float) -> float:
    """Flow of a tip at another pressure."""
    return rated_gpm * math.sqrt(psi / rated_psi)


def pressure_for(rated_gpm: float, rated_psi: float, gpm: float) -> float:
    """The pressure at which a tip gives so much: four times the pressure for twice the flow."""
    return rated_psi * (gpm / rated_gpm) ** 2


def catch_course_ft(spacing_in: float) -> float:
    """The course on which one nozzle covers 1/128 acre."""
    return CATCH_SQ_FT * 12 / spacing_in


def caught_gpa(ounces: float, course_ft: float, width_in: float) -> float:
    """Gallons an acre of what one nozzle, or all nozzles of one row together, gave on a course."""
    return ounces / OUNCES_A_GALLON * ACRE_SQ_FT / (course_ft * width_in / 12)


def band_gpa(broadcast_gpa: float, band_in: float, row_in: float) -> float:
    """Gallons an acre of field where only a band of each row is sprayed."""
    return broadcast_gpa * band_in / row_in


@dataclass(frozen=True, slots=True)
class Tanks:
    """A job in tank loads; the last one is only as full as it has to be."""

    acres_per_tank: float
    loads: int
    last_acres: float
    last_gallons: float


def tanks(acres: float, output_gpa: float, tank_gal: float) -> Tanks:
    """How often the tank is filled: whole loads, and what is left for the last."""
    per_tank = tank_gal / output_gpa
    loads = max(1, math.ceil(acres / per_tank - 1e-9))
    last = acres - (loads - 1) * per_tank
    return Tanks(per_tank, loads, last, last * output_gpa)


def product_per_acre(active_per_acre: float, active_per_gallon: float) -> float:
    """Fluid ounces of product an acre for so many pounds of active, or of acid equivalent, an acre.

    128 / (lb ae per gal) is fl oz for 1 lb ae (Iowa State University Extension, Glyphosate Math)."""
    return OUNCES_A_GALLON * active_per_acre / active_per_gallon
