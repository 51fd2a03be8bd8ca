"""Replant tables against the printed cells; each row names where the figure is printed.

Left out by name, as their printed cells lost a digit: Purdue 15 April at 14,000 and at 18,000."""

import tomllib
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings

from jobs.reference import reference
from jobs.sequences.options import closed_by
from jobs.sequences.spec import Closing
from plots.agronomy.replant import Percent, ReplantData, StandTable, advise, beans_kept, read_replant

ISU = "Iowa State University Extension PM 1885, quoted in newsletters of 24 May 2004 and 13 May 2009"
PURDUE = "Purdue Pest & Crop 2006, number 11, table 1, from Nafziger 1994"
PENN = "Penn State Extension, planting considerations and stand assessments"

# First and last day of each column, and a day inside it.
ISU_DAYS = [(4, 20), (5, 5), (5, 13), (5, 19), (5, 26), (6, 1), (6, 10), (6, 16), (6, 24), (6, 28)]
ISU_ROWS = {
    32_000: [100, 99, 90, 68, 52],
    28_000: [100, 99, 90, 68, 52],
    24_000: [94, 93, 85, 64, 49],
    20_000: [81, 80, 73, 55, 42],
    16_000: [74, 73, 67, 50, 38],
    12_000: [68, 67, 61, 46, 35],
}
PURDUE_STANDS = list(range(10_000, 36_001, 2_000))
PURDUE_ROWS = {
    (4, 10): [62, 68, 73, 78, 82, 85, 88, 91, 92, 93, 94, 94, 93, 91],
    (4, 15): [65, 71, None, 81, None, 88, 91, 94, 95, 96, 97, 96, 96, 94],
    (4, 20): [67, 73, 78, 83, 87, 90, 93, 96, 97, 98, 99, 98, 98, 96],
    (4, 25): [68, 74, 79, 84, 88, 92, 94, 97, 98, 99, 100, 100, 99, 97],
    (4, 30): [68, 74, 79, 84, 88, 92, 95, 97, 99, 100, 100, 100, 99, 97],
    (5, 5): [67, 73, 79, 83, 87, 91, 94, 96, 98, 99, 99, 99, 98, 97],
    (5, 10): [65, 71, 77, 82, 86, 89, 92, 94, 96, 97, 97, 97, 96, 95],
    (5, 15): [63, 69, 74, 79, 83, 87, 89, 92, 93, 94, 95, 95, 94, 92],
    (5, 20): [59, 65, 71, 75, 80, 83, 86, 88, 90, 91, 91, 91, 90, 89],
    (5, 25): [55, 61, 66, 71, 75, 79, 81, 84, 85, 86, 87, 87, 86, 84],
    (5, 30): [49, 55, 61, 65, 70, 73, 76, 78, 80, 81, 81, 81, 80, 79],
    (6, 4): [43, 49, 54, 59, 63, 67, 70, 72, 74, 75, 75, 75, 74, 73],
    (6, 9): [36, 42, 47, 52, 56, 60, 62, 65, 66, 67, 68, 68, 67, 65],
}
PRINTED = [
    *[
        pytest.param("corn_isu", date(2027, *day), stand, cell, id=f"ISU {stand} {day}")
        for stand, cells in ISU_ROWS.items()
        for place, day in enumerate(ISU_DAYS)
        for cell in [cells[place // 2]]
    ],
    *[
        pytest.param("corn_nafziger", date(2027, *day), stand, cell, id=f"Purdue {stand} {day}")
        for day, cells in PURDUE_ROWS.items()
        for stand, cell in zip(PURDUE_STANDS, cells, strict=True)
        if cell is not None
    ],
]


@pytest.fixture(scope="module")
def data() -> ReplantData:
    text = (Path(settings.FIXTURES) / "replant.toml").read_text(encoding="utf-8")
    return read_replant(text, sources=reference().sources)


def figures(found: Percent | None) -> tuple[float, float]:
    assert found is not None
    return found.low, found.high


def table(data: ReplantData, key: str) -> StandTable:
    return next(one for one in data.tables if one.key == key)


@pytest.mark.parametrize(("key", "day", "stand", "printed"), PRINTED)
def test_a_cell_as_printed(data: ReplantData, key: str, day: date, stand: int, printed: int) -> None:
    found = table(data, key).yield_pct(day, stand)
    assert figures(found) == (printed, printed)
    assert not found.between


def test_every_printed_cell_stands_in_the_tables(data: ReplantData) -> None:
    assert len(PRINTED) == 60 + 13 * 14 - 2
    cells = [cell for line in table(data, "corn_nafziger").cells for cell in line]
    assert (len(cells), cells.count(None)) == (182, 2)


@pytest.mark.parametrize("stand", [14_000, 18_000])
def test_the_two_cells_that_lost_a_digit_are_no_answer(data: ReplantData, stand: int) -> None:
    assert table(data, "corn_nafziger").yield_pct(date(2027, 4, 15), stand) is None


@pytest.mark.parametrize(("day", "printed"), [((4, 25), 100), ((5, 19), 90), ((5, 29), 80)])
def test_penn_state_by_planting_day(data: ReplantData, day: tuple[int, int], printed: int) -> None:
    found = table(data, "corn_penn_state").yield_pct(date(2027, *day))
    assert figures(found) == (printed, printed), PENN


@pytest.mark.parametrize(
    ("key", "day", "low", "high"),
    [
        ("corn_isu_older_trials", (5, 19), 87, 87),
        ("corn_isu_older_trials", (6, 1), 75, 80),
        ("corn_isu_older_table", (5, 19), 92, 92),
        ("corn_isu_older_table", (6, 1), 84, 84),
    ],
)
def test_the_older_iowa_figures(data: ReplantData, key: str, day: tuple[int, int], low: int, high: int) -> None:
    found = table(data, key).yield_pct(date(2027, *day))
    assert figures(found) == (low, high), "Iowa State University Extension, 1994"


def test_the_sources_disagree_about_a_full_stand_of_the_first_of_june_and_both_are_told(data: ReplantData) -> None:
    told = advise(data, "corn", planted=date(2027, 5, 5), stand=20_000, replant_on=date(2027, 6, 1))
    again = {one.table.source: one.replant for one in told}
    isu, purdue = again["isu-pm1885"], again["purdue-nafziger-2006"]
    assert figures(isu) == (90, 90), ISU
    # 30 May is 81 and 4 June 75: two of five days on the way.
    assert figures(purdue)[0] == pytest.approx(81 - 6 * 2 / 5), PURDUE
    assert purdue.between


def test_a_stand_of_twenty_thousand_gains_nine_points_in_the_last_week_of_may(data: ReplantData) -> None:
    """81 kept, 90 by a full stand of 26 May: the newsletter's own rule, "likely to pay"."""
    day = date(2027, 5, 26)
    told = advise(data, "corn", planted=date(2027, 5, 5), stand=20_000, replant_on=day)
    (isu,) = (one for one in told if one.table.source == "isu-pm1885")
    assert (figures(isu.kept), figures(isu.replant), isu.gain) == ((81, 81), (90, 90), (9, 9))
    (rule,) = data.rules
    assert rule.holds("corn", day, 20_000)
    assert not rule.holds("corn", day, 20_001)
    assert not rule.holds("corn", date(2027, 6, 2), 20_000)


@pytest.mark.parametrize(
    ("source", "size", "low", "high"),
    [
        ("isu-2004", "small", 2, 2),
        ("isu-2004", "large", 4, 6),
        ("isu-1996", "small", 2, 2),
        ("isu-1996", "large", 5, 6),
    ],
)
def test_what_gaps_cost_under_each_source(data: ReplantData, source: str, size: str, low: int, high: int) -> None:
    day = date(2027, 5, 26)
    told = advise(data, "corn", planted=date(2027, 5, 5), stand=24_000, replant_on=day, gaps=size)
    (kept,) = (o.kept for o in told if o.table.key == "corn_isu" and o.gap is not None and o.gap.source == source)
    assert kept is not None
    assert (kept.low, kept.high) == (pytest.approx(94 * (1 - high / 100)), pytest.approx(94 * (1 - low / 100)))


def test_poor_fields_have_no_response_above_twenty_four_thousand(data: ReplantData) -> None:
    purdue = table(data, "corn_nafziger")
    poor, rich = (purdue.yield_pct(date(2027, 4, 30), 32_000, expected_bu=bushels) for bushels in (90, 140))
    assert (figures(poor), figures(rich)) == ((97, 97), (100, 100)), PURDUE


@pytest.mark.parametrize(("full", "printed"), [(100, 91), (150, 90)])
def test_fifty_thousand_soybeans_keep_nine_tenths(data: ReplantData, full: int, printed: int) -> None:
    told = {row.full: (row.kept_pct, told) for row, told in beans_kept(data, 50_000)}
    assert told[full] == (printed, True), "Illinois Bulletin, 5 June 2009"
    assert all(not known for _, known in beans_kept(data, 49_999))


def test_sixty_bushels_at_nine_tenths_are_fifty_four(data: ReplantData) -> None:
    (row,) = (row for row, _ in beans_kept(data, 50_000) if row.full == 150)
    assert 60 * row.kept_pct / 100 == 54, "Illinois Bulletin, 5 June 2009"


@pytest.mark.parametrize(
    ("source", "day", "bushels"),
    [("vt-soybean", (6, 15), 0), ("vt-soybean", (6, 29), 7), ("illinois-2009-06", (6, 15), 7)],
)
def test_what_delay_costs_soybeans(data: ReplantData, source: str, day: tuple[int, int], bushels: float) -> None:
    """Virginia Tech: none to the middle of June, two weeks late 7 bu; Illinois: half a bushel a day in June."""
    (delay,) = (one for one in data.bean_delays if one.source == source)
    assert delay.lost_bu(date(2027, *day)) == bushels


DAY = 1_440
DICAMBA = "Mississippi State Extension, Bond, 2014 and 2015"


def soybean_rules() -> list[Closing]:
    """What the shipped corn sequence says of the soybean replant."""
    text = (Path(settings.FIXTURES) / "sequences" / "corn.toml").read_text(encoding="utf-8")
    branch = next(row for row in tomllib.loads(text)["branch"] if row["key"] == "again_soybean")
    known = reference().sources
    return [
        Closing(
            rule["active"], rule["source"], known[rule["source"]].worth, rule.get("days"), rule.get("after_rain_in")
        )
        for rule in branch["option"]["closed_by"]
    ]


@pytest.mark.parametrize("rained_on", [1, 9, 30])
def test_soybeans_wait_28_days_after_dicamba_from_the_day_with_an_inch_of_rain(rained_on: int) -> None:
    wet = {1.0: rained_on * DAY}
    (closed,) = closed_by(soybean_rules(), [("dicamba", 0)], lambda at, inches: wet[inches])
    assert closed.until == (rained_on + 28) * DAY, DICAMBA


def test_without_an_inch_of_rain_the_clock_of_dicamba_does_not_start() -> None:
    (closed,) = closed_by(soybean_rules(), [("dicamba", 0)], lambda at, inches: None)
    assert closed.until is None, DICAMBA


@pytest.mark.parametrize(
    ("active", "days", "source"),
    [
        ("2,4-D ester", 7, "Illinois Bulletin, 6 April 2012: up to a pint"),
        ("2,4-D amine", 15, "North Dakota State University, Carrington, October 2001: up to a pint"),
    ],
)
def test_soybeans_wait_after_2_4_d(active: str, days: int, source: str) -> None:
    (closed,) = closed_by(soybean_rules(), [(active, 0)])
    assert closed.until == days * DAY, source


def test_the_last_day_of_soybeans_in_northern_missouri(data: ReplantData) -> None:
    assert (data.bean_last.emerged_by, data.bean_last.frost_free_days) == ((7, 22), 90), "Missouri, June 2024"
