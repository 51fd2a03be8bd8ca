"""Limits hour by hour in plain Python, by another road: values by hour and rain totals in, distances out.

Nothing of the program is imported but its data. Missing is None.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

Value = float | None


@dataclass(frozen=True)
class Place:
    """`count` hours: values by name, and totals as (first hour, end hour, inches)."""

    count: int
    values: dict[str, list[Value]]
    totals: Sequence[tuple[int, int, float]]
    rain_by_hour: dict[int, float] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        for start, end, inches in self.totals:
            for hour in range(start, end):
                self.rain_by_hour[hour] = max(inches, self.rain_by_hour.get(hour, inches))

    def value(self, name: str, hour: int) -> Value:
        if not 0 <= hour < self.count:
            return None
        return self.values.get(name, [None] * self.count)[hour]

    def rain(self, hour: int) -> Value:
        return self.rain_by_hour.get(hour) if 0 <= hour < self.count else None


def distance(rule: Any, place: Place, hour: int) -> Value:
    """The distance of one rule in one hour, by the name of its class."""
    return globals()["_" + type(rule).__name__.lower()](rule, place, hour)


def _all(values: list[Value]) -> list[float] | None:
    return None if any(value is None for value in values) else [value for value in values if value is not None]


def _between(rule: Any, place: Place, hour: int) -> Value:
    value = place.value(rule.quantity, hour)
    return None if value is None else min(value - rule.least, rule.most - value)


def _lowest(rule: Any, place: Place, hour: int) -> Value:
    values = _all([place.value(rule.quantity, hour + step) for step in range(rule.hours_ahead)])
    return None if values is None else min(values) - rule.least


def _highest(rule: Any, place: Place, hour: int) -> Value:
    values = _all([place.value(rule.quantity, hour + step) for step in range(rule.hours_ahead)])
    return None if values is None else rule.most - max(values)


def _dryahead(rule: Any, place: Place, hour: int) -> Value:
    values = _all([place.rain(hour + step) for step in range(rule.hours_ahead + 1)])
    return None if values is None else rule.most_in - max(values)


def _rainahead(rule: Any, place: Place, hour: int) -> Value:
    if _all([place.rain(hour + step) for step in range(1, rule.hours_ahead + 1)]) is None:
        return None
    begins, ends = hour + 1, hour + rule.hours_ahead
    sure = sum(inches for start, end, inches in place.totals if start >= begins and end - 1 <= ends)
    return round(sure, 9) - rule.least_in


def _fit(rule: Any, place: Place, hour: int) -> Value:
    value = place.value(rule.quantity, hour)
    return 1.0 if value is None or value >= 1 else -1.0


def _drybefore(rule: Any, place: Place, hour: int) -> Value:
    hours = _hours_since_rain(rule, place, hour)
    if rule.unless and place.value(rule.unless, hour) == 1:
        return 1.0 if hours is None else max(hours, 1.0)
    return hours


def _hours_since_rain(rule: Any, place: Place, hour: int) -> Value:
    for since in range(hour + 1):
        rain = place.rain(hour - since)
        if rain is None:
            return None if since - 1 < rule.hours_before else float(since - 1 - rule.hours_before)
        if rain > rule.rain_in:
            return float(since - 1 - rule.hours_before)
    return float(hour - rule.hours_before) if hour >= rule.hours_before else None


def _away(rule: Any, place: Place, hour: int) -> Value:
    value = place.value(rule.quantity, hour)
    if value is None:
        return None
    heading = math.radians(value + 180)
    off = 180.0
    for bearing in rule.bearings:
        b = math.radians(bearing)
        cosine = math.cos(heading) * math.cos(b) + math.sin(heading) * math.sin(b)
        off = min(off, math.degrees(math.acos(max(-1.0, min(1.0, cosine)))))
    return off - rule.degrees_off


def _steady(rule: Any, place: Place, hour: int) -> Value:
    values = _all([place.value(rule.quantity, hour + step) for step in range(rule.hours_ahead + 1)])
    if values is None:
        return None
    turns = [abs(value - values[0]) % 360 for value in values]
    return rule.degrees - max(min(turn, 360 - turn) for turn in turns)


def _receded(rule: Any, place: Place, hour: int) -> Value:
    level = place.value(rule.quantity, hour)
    if level is None:
        return None
    flooded, low = False, 0
    for at in range(hour + 1):
        here = place.value(rule.quantity, at)
        low = low + 1 if here is not None and here < rule.most - rule.drop else 0
        if here is not None and here >= rule.most:
            flooded = True
        elif low >= rule.hours_clear:
            flooded = False
    return min(rule.most - level, -rule.drop) if flooded else rule.most - level
