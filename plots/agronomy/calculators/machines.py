"""Calculators of machines and speed."""

from __future__ import annotations

from plots.agronomy import machine
from plots.agronomy.calculators.spec import Given, Worked, duration, fig
from plots.agronomy.entries import Number
from plots.capacity import acres_per_hour

ACRES = Number("acres", "Acres", "ac", 0.01, 5000)
SPEED = Number("speed", "Speed", "mph", 0.5, 20)
CAREFUL_EFFICIENCY_PCT = 60

HOURS = (
    Number("width", "Working width", "ft", 0.5, 120),
    SPEED,
    Number("efficiency", "Field efficiency", "%", 10, 100, CAREFUL_EFFICIENCY_PCT),
    ACRES,
)
TRAVEL = (Number("course", "Course", "ft", 10, 5280), Number("seconds", "Time for it", "s", 1, 3600))


def hours(given: Given) -> Worked:
    width, speed, share = given["width"], given["speed"], given["efficiency"] / 100
    needed = machine.machine_hours(given["acres"], width, speed, share)
    return Worked(
        (
            fig("hours", "Machine hours", needed, "h", text=duration(needed)),
            fig(
                "acres_per_hour", "Acres an hour, turns and stops counted", acres_per_hour(width, speed, share), "ac/h"
            ),
            fig("acres_per_hour_most", "Acres an hour without a stop", acres_per_hour(width, speed, 1.0), "ac/h"),
        )
    )


def travel(given: Given) -> Worked:
    speed = machine.speed_mph(given["course"], given["seconds"])
    high, low = SPEED.high, SPEED.low
    note = (
        f"{speed:.1f} mph is no speed of field work ({SPEED.span()}): measure again."
        if not low <= speed <= high
        else ""
    )
    return Worked((fig("speed", "Speed", speed, "mph", 2 if speed < 10 else 3),), (note,) if note else ())
