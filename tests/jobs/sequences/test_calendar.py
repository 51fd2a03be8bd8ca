from datetime import date

import pytest

from jobs.sequences.calendar import SeasonDay, anchor_year, read_day


def test_a_season_labelled_2027_has_anchor_year_2027():
    assert read_day("05-10").in_year(2027) == date(2027, 5, 10)
    assert read_day("+1 02-15").in_year(2027) == date(2028, 2, 15)
    assert read_day("-1 09-01").in_year(2027) == date(2026, 9, 1)


def test_days_sort_in_the_order_of_the_calendar():
    days = [read_day(text) for text in ("+1 01-01", "12-31", "-1 12-31", "01-01")]
    assert [str(day) for day in sorted(days)] == ["-1 12-31", "01-01", "12-31", "+1 01-01"]


@pytest.mark.parametrize("text", ["-1 09-01", "05-10", "+3 12-31"])
def test_a_day_is_written_as_it_was_read(text):
    assert str(read_day(text)) == text


@pytest.mark.parametrize("text", ["5-10", "05/10", "+0 05-10", "1 05-10", "", None, "2027-05-10"])
def test_another_form_is_refused_with_the_right_one(text):
    with pytest.raises(ValueError, match="write month and day like 05-10"):
        read_day(text)


@pytest.mark.parametrize("text", ["02-30", "04-31", "13-01", "00-10", "05-00"])
def test_a_day_that_the_calendar_does_not_have_is_refused(text):
    with pytest.raises(ValueError, match="calendar does not have"):
        read_day(text)


def test_29_february_is_refused_since_most_years_lack_it():
    with pytest.raises(ValueError, match="write 02-28 or 03-01"):
        read_day("02-29")


def test_a_season_keeps_its_anchor_year_when_it_is_begun_late():
    autumn = SeasonDay(-1, 9, 1)
    assert anchor_year(date(2026, 9, 1), autumn) == 2027
    assert anchor_year(date(2027, 3, 20), autumn) == 2027
    assert anchor_year(date(2026, 8, 31), autumn) == 2026
    spring = SeasonDay(0, 2, 1)
    assert anchor_year(date(2027, 2, 1), spring) == 2027
    assert anchor_year(date(2028, 1, 31), spring) == 2027
