"""Light of a civil day, also where there is none; its figures are compared with another ephemeris in tests/outside."""

from datetime import date

from plots.daylight import daylight


def test_light_is_told_in_whole_minutes_within_the_local_day():
    rises, sets = daylight(40.0, -91.0, date(2027, 6, 21), "America/Chicago") or (0, 0)
    assert 14.5 * 60 < sets - rises < 15.5 * 60


def test_where_the_sun_stays_up_or_down_nobody_is_told_it_is_light():
    assert daylight(78.2, 15.6, date(2027, 6, 21), "Arctic/Longyearbyen") is None
    assert daylight(78.2, 15.6, date(2027, 12, 21), "Arctic/Longyearbyen") is None
