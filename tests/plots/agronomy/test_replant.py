"""Tables of stands: in a cell, between two, outside; what a gain says; what is refused."""

from datetime import date

import pytest

from plots.agronomy.replant import ReplantData, advise, read_replant

TEXT = """
[table.own]
crop = "corn"
name = "Own"
source = "book"
days = [["05-01", "05-05"], "05-15"]
stands = [10, [20, 22]]
cells = [[60, 40], [100, [70, 80]]]
[table.by_day]
crop = "corn"
name = "By day"
source = "other"
days = ["05-01", "05-15"]
cells = [[100, 90]]
[[gaps]]
source = "book"
size = "small"
says = "small"
lost_pct = [10, 20]
[[rule]]
crop = "corn"
source = "book"
first = "05-01"
last = "05-31"
stand_at_most = 12
says = "Pays."
[[bean_stand]]
source = "book"
stand = 50
full = 100
kept_pct = 91
[[bean_delay]]
source = "book"
from = "06-01"
bushels_a_day = 0.5
says = "Late."
[bean_last]
source = "book"
emerged_by = "07-22"
frost_free_days = 90
says = "Last."
"""


@pytest.fixture
def data() -> ReplantData:
    return read_replant(TEXT, sources={"book", "other"})


def test_between_days_and_stands_it_reads_on_the_straight_line_and_says_so(data: ReplantData) -> None:
    own = data.tables[0]
    found = own.yield_pct(date(2027, 5, 10), 15_000)  # half way both ways: 60 40 100 70..80
    assert found is not None
    assert (found.low, found.high, found.between) == (67.5, 70.0, True)
    inside = own.yield_pct(date(2027, 5, 3), 21_000)
    assert inside is not None
    assert (inside.low, inside.between) == (100, False)


@pytest.mark.parametrize(("day", "stand"), [((4, 30), 20_000), ((5, 16), 20_000), ((5, 1), 9_000), ((5, 1), 23_000)])
def test_outside_a_table_there_is_no_answer(data: ReplantData, day: tuple[int, int], stand: int) -> None:
    assert data.tables[0].yield_pct(date(2027, *day), stand) is None


def test_a_gain_is_a_range_and_each_table_answers_for_itself(data: ReplantData) -> None:
    """10,000 kept from 1 May is 60, less 10 to 20 % for its gaps 48 to 54; a full stand of 15 May 70 to 80."""
    days = {"planted": date(2027, 5, 1), "replant_on": date(2027, 5, 15)}
    own, by_day = advise(data, "corn", stand=10_000, gaps="small", **days)
    assert own.kept is not None
    assert (own.kept.low, own.kept.high) == (48, 54)
    assert own.gain == (16, 32)
    assert (by_day.kept, by_day.gain) == (None, None)
    assert by_day.replant is not None
    assert by_day.replant.low == 90
    assert advise(data, "soybean", stand=10_000, **days) == []


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('source = "other"', 'source = "nobody"', "nobody"),
        ("[[100, 90]]", "[[100]]", "do not fit"),
        ('days = ["05-01", "05-15"]', 'days = ["05-15", "05-01"]', "out of order"),
    ],
)
def test_data_that_break_their_form_are_refused(old: str, new: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        read_replant(TEXT.replace(old, new), sources={"book", "other"})
