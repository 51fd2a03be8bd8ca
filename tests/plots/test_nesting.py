"""Nesting days by state: only where both were read, with their source; unknown states and years are asked for."""

from __future__ import annotations

import pytest

from plots.nesting import read_nesting, season_of
from plots.reference import nesting_seasons

READ = [
    ("IL", 2020, "04-15", "08-01"),  # FSA Illinois, 2017 and 2023
    ("IN", 2019, "04-01", "08-01"),  # Indiana FSA, 2025
    ("IN", 2006, "03-01", "07-15"),  # NRCS Indiana, 2010
    ("IA", 2020, "05-15", "08-01"),  # FSA Iowa in the local press, 2017 and 2025
    ("KS", 2020, "04-15", "07-15"),  # USDA service centre, 2022 and 2023
    ("MO", 2020, "05-01", "07-15"),  # University of Missouri, 2008
    ("OH", 2020, "03-01", "07-15"),  # FSA Ohio in the press, 2009 and 2021
    ("OK", 2020, "05-01", "07-01"),  # FSA Oklahoma, 2018
    ("CO", 2020, "03-15", "07-15"),  # USDA update, 2016 to 2025
]


@pytest.mark.parametrize(("state", "begins", "first", "last"), READ)
def test_days_are_those_that_were_read(state: str, begins: int, first: str, last: str) -> None:
    season = season_of(nesting_seasons(), state, begins)
    assert season is not None
    assert (season.first, season.last) == (first, last)
    assert season.publisher
    assert season.year


@pytest.mark.parametrize(("state", "begins"), [("MN", 2020), ("NE", 2020), ("TX", 2020), ("IN", 2007), ("", 2020)])
def test_a_state_or_year_of_which_not_both_days_were_read_is_asked_for(state: str, begins: int) -> None:
    assert season_of(nesting_seasons(), state, begins) is None


def test_every_season_is_one_of_those() -> None:
    assert {(season.state, season.first, season.last) for season in nesting_seasons()} == {
        (state, first, last) for state, _, first, last in READ
    }


def test_a_day_that_is_none_is_refused() -> None:
    row = 'state = "IL"\nfirst = "4-15"\nlast = "08-01"\npublisher = "x"\nyear = "1"\nworth = "weak"\n'
    with pytest.raises(ValueError, match="IL"):
        read_nesting("[[season]]\n" + row)
