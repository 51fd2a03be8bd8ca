"""How fast a machine works."""


def acres_per_hour(width_ft: float, speed_mph: float, efficiency: float) -> float:
    """Effective field capacity in acres an hour: speed x width x field efficiency / 8.25.

    Width in feet, speed in miles an hour, efficiency from above 0 to 1. 8.25 is 43,560 / 5,280. Source: University of
    Kentucky AEN-73, Calculating Farm Machinery Field Capacities, 1991. ValueError for figures of 0 or below.
    """
    if width_ft <= 0 or speed_mph <= 0 or not 0 < efficiency <= 1:
        raise ValueError("Width and speed lie above 0, field efficiency above 0 and at most 1.")
    return speed_mph * width_ft * efficiency / 8.25
