"""Hours in which the air near the ground is probably layered (a temperature inversion), by a published rule.

In a typical year inverted readings begin 3 to 4 hours before sunset and clear 1 to 2 hours after sunrise (North
Dakota State University Extension, Crop and Pest Report, 20 May 2021). The rule takes the longer stretch of each.
Outside these hours an inversion is not expected by the clock, which is no promise: the signs on the spot (calm, clear
sky, dew, hanging smoke) go before it.
"""

from __future__ import annotations

BEFORE_SUNSET_MIN = 240
AFTER_SUNRISE_MIN = 120


def inverted_stretches(suns: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """From (sunrise, sunset) of successive local days, the probable inversions as (from, to), to exclusive; minutes.

    The first stretch begins at the start of knowing: the night before the first sunrise counts whole (a day before)."""
    if not suns:
        return []
    found = []
    begins = suns[0][0] - 1440
    for rises, sets in suns:
        clears, again = rises + AFTER_SUNRISE_MIN, sets - BEFORE_SUNSET_MIN
        if again > clears:
            found.append((begins, clears))
            begins = again
    found.append((begins, suns[-1][1] + 1440))
    return found
