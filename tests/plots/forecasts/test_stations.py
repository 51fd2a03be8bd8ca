"""Daily history and normals of stations, in the published formats."""

from datetime import date

import pytest

from plots.forecasts import Unusable
from plots.forecasts.stations import (
    FreezeDays,
    by_year,
    dly,
    freeze_days,
    freeze_risk,
    normals,
    normals_of,
    one_station,
)

LINES = [
    "USW00014735,20240501,TMAX,206,,,W,2400",
    "USW00014735,20240501,TMIN,94,,,W,2400",
    "USW00014735,20240501,PRCP,25,,,W,2400",
    "USW00014735,20240502,TMAX,211,,I,W,2400",
    "USW00014735,20240502,SNWD,0,,,W,2400",
]


def dly_line(element: str, cells: dict[int, tuple[int, str]]) -> str:
    body = "".join(
        f"{cells[day][0]:5d} {cells[day][1] or ' '}W" if day in cells else "-9999   " for day in range(1, 32)
    )
    return f"USW00014735202404{element}{body}"


def test_a_day_gathers_its_elements_in_our_units() -> None:
    (day,) = by_year(LINES)
    assert (day.station, day.day) == ("USW00014735", date(2024, 5, 1))
    assert day.high_f == pytest.approx(69.08)
    assert day.low_f == pytest.approx(48.92)
    assert day.rain_in == pytest.approx(2.5 / 25.4)


def test_a_value_that_failed_a_check_is_dropped() -> None:
    assert by_year(LINES[3:4]) == []


def test_the_fixed_width_form_gives_the_same_days() -> None:
    lines = [dly_line("TMAX", {1: (206, ""), 2: (211, "I")}), dly_line("TMIN", {1: (94, "")})]
    (day,) = dly(lines)
    assert (day.day, day.high_f, day.low_f, day.rain_in) == (
        date(2024, 4, 1),
        pytest.approx(69.08),
        pytest.approx(48.92),
        None,
    )


def test_a_31st_of_april_with_a_value_is_refused() -> None:
    with pytest.raises(Unusable, match="day 31"):
        dly([dly_line("TMAX", {31: (206, "")})])


@pytest.mark.parametrize("line", ["USW00014735,20240501,TMAX", "a,2024x501,TMAX,1,,,,", "a,20240501,TMAX,x,,,,"])
def test_a_broken_line_is_named(line: str) -> None:
    with pytest.raises(Unusable, match="Line 2"):
        by_year([LINES[0], line])


def test_a_short_fixed_width_line_is_named() -> None:
    with pytest.raises(Unusable, match="Line 1"):
        dly(["USW00014735202404TMAX  206  W"])


NORMALS = [
    "STATION,DATE,DLY-TMAX-NORMAL,DLY-TMIN-NORMAL,DLY-GRDD-TB5086",
    "USW00014735,07-15,82.9,61.8,22",
    "USW00014735,01-01,33.1,-7777,0",
]


def test_normals_keep_published_degree_days_and_codes_are_missing() -> None:
    first, july = normals(NORMALS)
    assert (first.month_day, first.low_f, first.degree_days) == ("01-01", None, {"TB5086": 0.0})
    assert (july.high_f, july.degree_days["TB5086"]) == (82.9, 22.0)


def test_normals_in_tenths_are_refused() -> None:
    with pytest.raises(Unusable, match="July"):
        normals([NORMALS[0], "USW00014735,07-15,829,618,220"])


def test_a_file_without_its_columns_is_refused() -> None:
    with pytest.raises(Unusable, match="DLY-TMIN-NORMAL"):
        normals(["STATION,DATE,DLY-TMAX-NORMAL", "a,07-15,82"])


def test_freeze_days_are_read_by_threshold_and_level_with_their_blanks() -> None:
    lines = [
        '"STATION","ANN-TMIN-PRBLST-T32FP10","ANN-TMIN-PRBLST-T32FP50","ANN-TMIN-PRBFST-T32FP10","ANN-TMIN-PRBGSL-T32FP50"',
        '"X","  05/02"," 04/20","  10/10","  171"',
    ]
    assert freeze_days(lines) == {32: FreezeDays(32, {10: "05-02", 50: "04-20"}, {10: "10-10"})}


@pytest.mark.parametrize("code", ["-7777", "-9999", "", "13"])
def test_a_code_is_no_freeze_day(code: str) -> None:
    with pytest.raises(Unusable, match="no freeze"):
        freeze_days(["STATION,ANN-TMIN-PRBLST-T32FP10", f"X,{code}"])


def test_two_stations_in_a_file_are_refused() -> None:
    with pytest.raises(Unusable, match="2 lines"):
        freeze_days(["STATION,ANN-TMIN-PRBLST-T32FP10", "X,05/02", "Y,05/03"])


FREEZE = FreezeDays(32, {10: "05-11", 50: "04-27", 90: "04-16"}, {10: "10-03", 50: "10-15", 90: "11-01"})


@pytest.mark.parametrize(
    ("day", "risk"),
    [
        ("04-01", (90, 100)),
        ("04-20", (50, 90)),
        ("05-01", (10, 50)),
        ("05-11", (0, 10)),
        ("06-30", (0, 10)),
        ("09-15", (0, 10)),
        ("10-03", (10, 50)),
        ("12-24", (90, 100)),
    ],
)
def test_the_risk_lies_between_two_published_levels(day: str, risk: tuple[int, int]) -> None:
    assert freeze_risk(FREEZE, day) == risk


def test_without_levels_there_is_no_risk_to_tell() -> None:
    assert freeze_risk(FreezeDays(32, {}, {}), "05-01") is None


TABLE = [
    '"STATION","DATE","NAME","PRCP","PRCP_ATTRIBUTES","TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"',
    '"USW00014735","2024-05-01","ALBANY AIRPORT, NY US","   25",",,W,2400","  206",",,W","   94",",,W"',
    '"USW00014735","2024-05-02","ALBANY AIRPORT, NY US","    0","T,,W,2400","  211",",I,W","",""',
]


def test_the_file_of_a_station_gives_the_same_days_as_the_file_of_a_year() -> None:
    first, second = one_station(TABLE, "USW00014735")
    assert first == by_year(LINES)[0]
    assert (second.day, second.high_f, second.low_f, second.rain_in) == (date(2024, 5, 2), None, None, 0.0)


@pytest.mark.parametrize(
    ("lines", "reason"),
    [
        ([], "no column DATE, STATION"),
        (['"STATION","DATE"', '"USW00014735","2024-05-01"'], "no column TMAX"),
        ([*TABLE[:2], TABLE[2].replace("USW", "USC")], "Line 3 is of another station"),
        ([*TABLE[:2], TABLE[2][:40]], "Line 3 is cut off"),
        ([*TABLE[:2], TABLE[2][:14]], "Line 3 has 2 fields, not 9"),
        ([*TABLE[:2], TABLE[2].replace("2024-05-02", "May 2")], "Line 3 has no day"),
    ],
)
def test_a_file_of_a_station_that_is_not_whole_is_refused(lines: list[str], reason: str) -> None:
    with pytest.raises(Unusable, match=reason):
        one_station(lines, "USW00014735")


def test_normals_of_a_station_are_whole_or_refused() -> None:
    header = "STATION,DATE,DLY-TMAX-NORMAL,DLY-TMIN-NORMAL"
    year = [f"X,{date.fromordinal(date(2026, 1, 1).toordinal() + n):%m-%d},70.0,50.0" for n in range(365)]
    assert len(normals_of([header, *year], "X")) == 365
    for lines, reason in ((year[:-1], "364 days"), ([*year, year[0]], "366 lines"), (["Y" + year[0][1:]], "another")):
        with pytest.raises(Unusable, match=reason):
            normals_of([header, *lines], "X")
