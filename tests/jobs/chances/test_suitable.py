"""Days of history against limits: what daily figures prove at noon, and what they leave out by name."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from jobs.chances.history import HIGH, LOW, RAIN, History
from jobs.chances.suitable import reach_days, suitable
from jobs.windows.limits import Between, DryAhead, DryBefore, Fit, Highest, Limit, Lowest, RainAhead, Rule, Steady

NAN = float("nan")
FIRST = date(2027, 5, 1)


def weather(**columns: list[float]) -> History:
    """One year; 70 over 50 and dry where nothing else is said."""
    count = len(next(iter(columns.values())))
    usual = {HIGH: [70.0] * count, LOW: [50.0] * count, RAIN: [0.0] * count} | columns
    values = {name: np.array([row], float) for name, row in usual.items()}
    return History((2000,), tuple(FIRST + timedelta(days=n) for n in range(count)), values)


def limit(rule: Rule, key: str = "it") -> Limit:
    return Limit(key, f"{key} in words", "", 1.0, rule, "common-practice")


def days(rule: Rule, **columns: list[float]) -> list[bool]:
    found: list[bool] = suitable([limit(rule)], weather(**columns)).holds[0].tolist()
    return found


def test_a_band_of_temperature_holds_where_the_whole_day_lies_in_it() -> None:
    band = Between("temp_f", 40, 60)
    assert days(band, high_f=[60, 61, 55, NAN], low_f=[40, 45, 39, 45]) == [True, False, False, False]


@pytest.mark.parametrize(
    ("hours", "holds"),
    [
        (5, [True, False, True, True, True]),  # from noon to the evening: the day alone
        (11, [True, False, True, True, True]),
        (12, [False, False, True, True, False]),  # into the next day, which the last one does not know
        (35, [False, False, True, True, False]),
        (36, [False, False, True, False, False]),
    ],
)
def test_rain_ahead_counts_every_day_that_the_hours_from_noon_reach_into(hours: int, holds: list[bool]) -> None:
    assert days(DryAhead(hours, 0.1), rain_in=[0.0, 0.5, 0.1, 0.0, 0.0]) == holds


def test_rain_behind_counts_every_day_that_the_hours_before_noon_reach_into() -> None:
    rain = [0.0, 0.6, 0.0, 0.0, 0.0]
    assert days(DryBefore(12, 0.5), rain_in=rain) == [True, False, True, True, True]
    assert days(DryBefore(24, 0.5), rain_in=rain) == [False, False, False, True, True]
    assert days(DryBefore(48, 0.5), rain_in=rain) == [False, False, False, False, True]


def test_nights_and_heat_to_come_look_at_lows_and_highs() -> None:
    assert days(Lowest("temp_f", 48, 40), low_f=[45, 45, 39, 45, 45, 45]) == [False, False, False, True, False, False]
    assert days(Highest("temp_f", 24, 92), high_f=[90, 93, 90, 90]) == [False, False, True, False]


def test_a_missing_figure_proves_nothing() -> None:
    assert days(DryAhead(6, 0.1), rain_in=[NAN, 0.0]) == [False, True]
    assert days(DryBefore(24, 0.1), rain_in=[0.0, NAN, 0.0, 0.0]) == [False, False, False, True]


def test_what_daily_data_do_not_answer_is_left_out_by_name() -> None:
    asked = [
        limit(Between("wind_mph", 3, 10), "wind"),
        limit(DryAhead(6, 0.1), "rain"),
        limit(Steady(12, 45), "shift"),
        limit(Fit("ground"), "ground"),
        limit(RainAhead(48, 0.25), "rain to come"),
        limit(Between("soil_temp_f", 50), "soil"),
    ]
    found = suitable(asked, weather(rain_in=[0.0, 1.0]))
    assert [one.key for one in found.answered] == ["rain"]
    assert [one.key for one in found.left_out] == ["wind", "shift", "ground", "rain to come", "soil"]
    assert found.reads == (RAIN,)
    assert found.holds.tolist() == [[True, False]]


def test_the_history_is_as_much_wider_as_the_limits_look() -> None:
    assert reach_days([]) == 1
    assert reach_days([limit(DryAhead(6, 0.1)), limit(Highest("temp_f", 72, 92))]) == 4
