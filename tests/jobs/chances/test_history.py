"""Years of daily weather laid over a season's days, and the chance of one job in them."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from jobs.chances.chance import chance, days_needed, runs_of
from jobs.chances.history import HIGH, RAIN, Known, filled, history


def every_day(first: int, last: int) -> dict[date, Known]:
    """The high tells the year, the rain the month."""
    start = date(first, 1, 1)
    days = [start + timedelta(days=n) for n in range((date(last, 12, 31) - start).days + 1)]
    return {day: (float(day.year), None, float(day.month)) for day in days}


def test_each_year_stands_for_the_seasons_first_and_runs_on_into_its_next() -> None:
    found = history(every_day(2000, 2004), date(2027, 12, 30), date(2028, 1, 2), before=2027)
    assert found.years == (2000, 2001, 2002, 2003, 2004)
    assert found.of(HIGH)[0].tolist() == [2000, 2000, 2001, 2001]
    assert found.of(RAIN)[0].tolist() == [12, 12, 1, 1]
    assert np.isnan(found.of(HIGH)[4]).tolist() == [False, False, True, True]


def test_a_leap_day_of_the_season_is_the_day_before_it_elsewhere() -> None:
    found = history(every_day(1999, 2000), date(2028, 2, 28), date(2028, 3, 1), before=2028)
    known = {date(1999, 2, 28): 2.0, date(1999, 3, 1): 3.0}
    assert found.of(RAIN)[0].tolist() == [known[date(1999, 2, 28)], 2.0, known[date(1999, 3, 1)]]


def test_the_season_itself_is_no_history() -> None:
    found = history(every_day(2024, 2027), date(2027, 5, 1), date(2028, 2, 1), before=2027)
    assert found.years == (2024, 2025)


def test_a_year_counts_where_few_days_of_what_is_asked_are_missing() -> None:
    days = every_day(2000, 2003)
    for n in range(2):
        days[date(2001, 5, 1 + n)] = (None, None, 5.0)
    for n in range(1):
        days[date(2002, 5, 1 + n)] = (None, None, 5.0)
    found = history(days, date(2027, 5, 1), date(2027, 5, 30), before=2027)
    assert found.complete([HIGH]).tolist() == [True, False, True, True]  # two of thirty are too many, one is not
    assert found.complete([RAIN]).tolist() == [True] * 4
    assert found.complete([HIGH, "low_f"]).tolist() == [False] * 4
    assert found.only(found.complete([HIGH])).years == (2000, 2002, 2003)


def test_a_missing_sum_is_the_mean_of_the_other_years() -> None:
    values = np.array([[10, -1, -1], [21, 6, -1], [-1, 9, -1]])
    assert filled(values, -1).tolist() == [[10, 7, 0], [21, 6, 0], [15, 9, 0]]


def test_days_left_and_the_share_of_years_that_got_a_window() -> None:
    """Work of 25 hours takes three days on end."""
    holds = np.array([[1, 1, 0, 1, 1, 0], [0, 1, 1, 1, 0, 0], [0, 0, 0, 0, 0, 0]], bool)
    found = chance((2000, 2001, 2002), holds, 1_500)
    assert (found.needed, found.days, found.got) == (3, (4, 3, 0), (False, True, False))
    assert found.share == pytest.approx(1 / 3)
    assert found.usual == 3
    assert found.middle == (0, 4)
    assert chance((2000, 2001, 2002), holds, 1_500, may_split=True).got == (True, True, False)
    assert chance((2000,), holds[:1], 600).got == (True,)


def test_one_year_says_yes_or_no_and_none_says_nothing() -> None:
    assert chance((2000,), np.array([[0, 1]], bool), 60).share == 1.0
    assert chance((2000,), np.array([[0, 0]], bool), 60).share == 0.0
    with pytest.raises(ValueError, match="no year"):
        chance((), np.zeros((0, 3), bool), 60)


@pytest.mark.parametrize(("minutes", "days"), [(0, 1), (600, 1), (601, 2), (1_200, 2)])
def test_longer_work_takes_several_days(minutes: int, days: int) -> None:
    assert days_needed(minutes) == days


def test_runs_end_with_the_days() -> None:
    assert runs_of(np.array([[1, 1, 1]], bool), 2).tolist() == [[True, True, False]]
