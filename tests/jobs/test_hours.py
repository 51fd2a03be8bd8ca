"""Stretches of minutes: sets of half-open intervals, wall times on the days when the clock changes, free hours."""

from datetime import UTC, date, datetime, time
from itertools import pairwise
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from jobs.hours import OneDay, Weekly, free_on, intersect, minute_at, subtract, union
from jobs.minutes import EPOCH, ceil_minute, day_end, day_start, floor_minute, instant, local_day

CHICAGO = "America/Chicago"
stretches = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), max_size=8)


def minutes_of(found) -> set[int]:
    return {minute for start, end in found for minute in range(start, end)}


def tidy(found) -> bool:
    return all(start < end for start, end in found) and all(a[1] < b[0] for a, b in pairwise(found))


@given(stretches)
def test_a_union_holds_every_minute_once(some):
    assert minutes_of(union(some)) == minutes_of(some)
    assert tidy(union(some))


@given(stretches, stretches)
def test_what_lies_in_both_is_what_lies_in_either_set_of_minutes(some, others):
    both = intersect(union(some), union(others))
    assert minutes_of(both) == minutes_of(some) & minutes_of(others)
    assert tidy(both)


@given(stretches, stretches)
def test_what_is_taken_off_is_gone_and_nothing_else(some, others):
    assert minutes_of(subtract(union(some), others)) == minutes_of(some) - minutes_of(others)


def wall(minute: int, zone: str = CHICAGO) -> str:
    return datetime.fromtimestamp(minute * 60, ZoneInfo(zone)).strftime("%d %H:%M %z")


def test_a_wall_time_is_the_minute_that_the_clock_shows_it():
    assert wall(minute_at(CHICAGO, date(2027, 5, 8), time(6, 30))) == "08 06:30 -0500"


def test_a_time_that_the_clock_skips_is_the_first_instant_after_the_gap():
    spring = date(2027, 3, 14)
    assert {wall(minute_at(CHICAGO, spring, time(2, minute))) for minute in (0, 1, 30, 59)} == {"14 03:00 -0500"}
    assert wall(minute_at(CHICAGO, spring, time(3, 0))) == "14 03:00 -0500"


def test_a_time_that_the_clock_shows_twice_is_the_first_of_the_two():
    assert wall(minute_at(CHICAGO, date(2027, 11, 7), time(1, 30))) == "07 01:30 -0500"


def test_free_hours_are_the_weeks_with_the_days_exceptions():
    saturday = date(2027, 5, 8)
    week = [Weekly(5, time(7), time(12)), Weekly(6, time(13), time(18))]
    days = [
        OneDay(saturday, time(15), time(17), free=True),
        OneDay(saturday, time(9), time(10), free=False),
        OneDay(date(2027, 5, 9), time(0), time(23), free=False),
    ]
    free = free_on(saturday, CHICAGO, week, days)
    assert [(wall(start)[3:8], wall(end)[3:8]) for start, end in free] == [
        ("07:00", "09:00"),
        ("10:00", "12:00"),
        ("15:00", "17:00"),
    ]
    assert free_on(date(2027, 5, 10), CHICAGO, week, days) == []


def test_a_free_night_over_the_clock_change_is_an_hour_shorter_in_spring_and_longer_in_autumn():
    night = [Weekly(6, time(0), time(6))]
    spring, autumn = (free_on(day, CHICAGO, night, []) for day in (date(2027, 3, 14), date(2027, 11, 7)))
    assert [end - start for start, end in spring + autumn] == [5 * 60, 7 * 60]


def test_instants_round_to_the_minute_on_the_side_that_is_asked():
    at = datetime(2027, 5, 8, 11, 30, 20, tzinfo=UTC)
    assert ceil_minute(at) - floor_minute(at) == 1
    assert instant(floor_minute(at)) == at.replace(second=0)
    whole = at.replace(second=0)
    assert ceil_minute(whole) == floor_minute(whole)


def test_what_is_not_known_or_lies_beyond_the_calendar_is_no_instant():
    assert instant(None) is None
    assert instant(2**40) is None
    assert instant(-(2**40)) is None
    assert instant(2**39) is None
    assert instant(0) == EPOCH


def test_a_local_day_runs_from_its_midnight_to_the_next():
    day = date(2027, 11, 7)
    assert day_end(CHICAGO, day) - day_start(CHICAGO, day) == 25 * 60
    assert local_day(CHICAGO, day_start(CHICAGO, day)) == day
    assert local_day(CHICAGO, day_end(CHICAGO, day) - 1) == day
