"""Degree days against printed examples; each row names where the figure is printed."""

import pytest

from plots.degree_days import degree_days

AGF_101 = "Ohio State University Extension AGF-101, Eckert and Thomison, 2017"
ARGUS = "Waushara Argus, extension column, April 2018"
DAIRY = "a dairy consultant's page: arithmetic only, both clamps inactive"

PRINTED = [
    (80, 60, 20.0, AGF_101),
    (60, 40, 5.0, AGF_101),
    (90, 70, 28.0, AGF_101),
    (90, 65, 25.5, ARGUS),
    (72, 46, 11.0, ARGUS),
    (63, 42, 6.5, ARGUS),
    (83, 61, 22.0, DAIRY),
]


@pytest.mark.parametrize(("high_f", "low_f", "printed", "source"), PRINTED)
def test_one_day_as_printed(high_f, low_f, printed, source):
    assert degree_days(high_f, low_f) == printed * 100, source


def test_three_days_add_up_to_the_printed_sum():
    days = [(high, low) for high, low, _, source in PRINTED if source == ARGUS]
    assert sum(degree_days(high, low) for high, low in days) == 4_300, ARGUS


def test_no_day_counts_more_than_the_printed_most():
    assert degree_days(120, 110) == 3_600, "Iowa State University Extension: at most 36 a day"
