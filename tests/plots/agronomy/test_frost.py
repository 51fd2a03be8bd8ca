"""First freezes by year, and how often a late planting is ripe before one."""

from datetime import date, timedelta

import pytest

from plots.agronomy.frost import Freezes, days_to_ripe, first_freezes, ripening, usable_days


def lows(year: int, freeze: date | None, without: int = 0) -> dict[date, float]:
    """40 F every autumn day, 30 F on the freeze; the first `without` days are missing."""
    days = [date(year, 7, 1) + timedelta(days=n) for n in range(without, 184)]
    return {day: 30.0 if day == freeze else 40.0 for day in days}


def test_the_first_freeze_of_each_year_and_years_without() -> None:
    found = first_freezes(lows(2020, date(2020, 10, 10)) | lows(2021, date(2021, 10, 20)) | lows(2022, None), 32.0)
    assert found.by_year == {2020: date(2020, 10, 10), 2021: date(2021, 10, 20), 2022: None}
    assert found.mean_day(2027) == date(2027, 11, 10)  # 101, 111 and 183 days after 1 July


def test_a_year_with_too_many_missing_lows_is_left_out_by_name() -> None:
    found = first_freezes(lows(2020, date(2020, 10, 10), without=6) | lows(2021, date(2021, 10, 10), without=5), 32.0)
    assert found.left_out == (2020,)  # 6 of 102 days are more than 5 percent, 5 are not
    assert found.by_year == {2021: date(2021, 10, 10)}
    assert first_freezes({}, 32.0).mean_day(2027) is None


def test_ripe_on_the_day_of_the_freeze_is_too_late_and_never_ripe_is_frozen() -> None:
    freezes = Freezes(28.0, {2020: date(2020, 10, 10), 2021: date(2021, 10, 10), 2022: None, 2023: None}, (2019,))
    ripe_on = {2020: date(2020, 10, 9), 2021: date(2021, 10, 10), 2022: date(2022, 12, 1)}
    found = ripening(ripe_on, freezes)
    assert (found.ripe, found.frozen, found.left_out) == ((2020, 2022), (2021,), (2019, 2023))
    assert found.share == pytest.approx(2 / 3)
    assert ripening({}, freezes).share is None


def test_a_hybrid_known_by_nothing_is_asked_for() -> None:
    with pytest.raises(ValueError, match="days to bloom"):
        days_to_ripe()
    assert usable_days(date(2027, 9, 1), date(2027, 9, 5)) == -6
