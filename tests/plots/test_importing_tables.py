"""Rules of CSV import: which lines are read, which are refused, and in which words."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plots.importing import COLUMNS, KINDS, DayRow, HourRow, MachineRow, MaterialRow, PersonRow, PlotRow, parse
from plots.importing.tables import MAX_ROWS


def sentences(kind: str, text: str, **where: str) -> list[str]:
    return [refusal.sentence for refusal in parse(kind, text.encode(), **where).refused]


def rows(kind: str, text: str, **where: str) -> list[object]:
    parsed = parse(kind, text.encode(), **where)
    assert parsed.refused == []
    return list(parsed.rows)


# Every kind


def test_people():
    assert rows(
        "people", "name,role,email,zone,crews\nPat,Manager,PAT@example.org,America/Denver,north / sprayers\nLee,,,,\n"
    ) == [
        PersonRow("Line 2", "Pat", "manager", "pat@example.org", "America/Denver", ("north", "sprayers")),
        PersonRow("Line 3", "Lee"),
    ]


def test_machines():
    text = "name,kind,width_ft,speed_mph,efficiency,at_property,state,until,with_operator,note\n"
    text += "Drill,planter,10,4.5,0.65,East,on loan,2026-06-01,yes,ask first\n"
    assert rows("machines", text) == [
        MachineRow("Line 2", "Drill", "planter", 10, 4.5, 0.65, "East", "on_loan", date(2026, 6, 1), True, "ask first")
    ]


def test_materials():
    text = "name,kind,unit,active,analysis,pack_size,lead_days,restricted,on_hand,lot,note\n"
    text += "Starter,fertiliser,lb,,10-20-10,50,7,no,400,A7,\n"
    assert rows("materials", text) == [
        MaterialRow("Line 2", "Starter", "fertiliser", "lb", "", "10-20-10", 50, 7, False, 400, "A7")
    ]


def test_plots():
    assert rows("plots", "name,property,acres,kind,latitude,longitude\nBend,East,2.5,burn unit,42,-93\n") == [
        PlotRow("Line 2", "Bend", "burn_unit", "East", acres=2.5, latitude=42, longitude=-93)
    ]


def test_days():
    assert rows("days", "date,high_f,low_f,rain_in\n2026-05-09,68,44,T\n2026-05-10,,,0.35\n") == [
        DayRow("Line 2", date(2026, 5, 9), 68, 44, 0.0),
        DayRow("Line 3", date(2026, 5, 10), None, None, 0.35),
    ]


def test_hours_with_an_offset_need_no_zone():
    text = "time,temp_f,humidity_pct,wind_mph,gust_mph,wind_dir_deg,rain_in\n2026-05-09T14:00-05:00,70,55,8,15,225,0\n"
    text += "2026-05-09T20:00Z,71,,,,,\n2026-05-09 21:00:00+0000,72,,,,,\n"
    assert rows("hours", text) == [
        HourRow("Line 2", datetime(2026, 5, 9, 19, tzinfo=UTC), 70, 55, 8, 15, 225, 0),
        HourRow("Line 3", datetime(2026, 5, 9, 20, tzinfo=UTC), 71),
        HourRow("Line 4", datetime(2026, 5, 9, 21, tzinfo=UTC), 72),
    ]


def test_local_hours_are_told_by_the_zone_of_the_line_or_of_the_import():
    text = "time,zone,temp_f\n2026-05-09 14:00,,70\n2026-05-09 14:00,America/Denver,71\n"
    first, second = rows("hours", text, zone="America/Chicago")
    assert (first.at, second.at) == (datetime(2026, 5, 9, 19, tzinfo=UTC), datetime(2026, 5, 9, 20, tzinfo=UTC))


# The form of the file


@pytest.mark.parametrize(
    "text",
    [
        "date,high_f\n2026-05-09,68\n",
        "\ufeffdate,high_f\r\n2026-05-09,68\r\n",
        "date;high_f\n2026-05-09;68\n",
        "date\thigh_f\n2026-05-09\t68",
        "# a remark\n\ndate,high_f\n2026-05-09,68\n",
        " Date , HIGH_F \n 2026-05-09 , 68 \n",
        "date,high_f,,\n2026-05-09,68,,\n",
        'date,"high_f"\n"2026-05-09","68"\n',
        "high_f,date\n68,2026-05-09\n",
        "date,high_f\r2026-05-09,68\r",
    ],
)
def test_marks_line_ends_separators_remarks_and_blanks_do_not_matter(text):
    (row,) = rows("days", text)
    assert (row.date, row.high_f) == (date(2026, 5, 9), 68)


def test_a_line_keeps_its_number_past_remarks_blank_lines_and_quoted_line_breaks():
    text = '# one\n# two\nname,kind,note\n\nA,tractor,"two\nlines"\n,,\nB,tractor,' + "x" * 201 + "\n"
    assert sentences("machines", text) == [
        "Line 5: note has a line break or another control character. Write it on one line.",
        "Line 8: note has 201 characters. Give at most 200.",
    ]


def test_a_line_shorter_than_the_names_has_empty_values_and_a_longer_one_is_refused():
    assert rows("machines", "name,kind,width_ft\nA,tractor\n") == [MachineRow("Line 2", "A", "tractor")]
    assert sentences("machines", "name,kind\nA,tractor,10\n") == [
        "Line 2: it has 3 values for 2 columns. Put quotes around commas."
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("# only a remark\n", "File: it has no line with the names of the columns. Known columns: date,"),
        ("date,high_f\n", "File: it has no lines below the names of the columns."),
        (
            "date,high_c\n2026-05-09,20\n",
            "Line 1: column 'high_c' is not known. Known columns: date, high_f, low_f, rain_in.",
        ),
        ("date,,high_f\n", "Line 1: column 2 has no name. Known columns:"),
        ("date,date\n", "Line 1: column 'date' stands twice. Keep one of them."),
        ("high_f\n68\n", "Line 1: column 'date' is missing. Add it."),
        ('date,high_f\n2026-05-09,"68\n', "File: its quotes do not pair up"),
        ('date,high_f\n2026-05-09,"6"8\n', "File: its quotes do not pair up"),
    ],
)
def test_a_file_without_its_form_is_refused_with_what_is_known(text, words):
    (sentence,) = sentences("days", text)
    assert sentence.startswith(words)


def test_lines_read_before_broken_quotes_stay_read():
    parsed = parse("days", b'date,high_f\n2026-05-09,68\n2026-05-10,"6"8\n')
    assert (len(parsed.rows), len(parsed.refused)) == (1, 1)


def test_other_text_encodings_are_refused():
    for data in ("name,kind\nCafé,mower\n".encode("latin-1"), "name,kind\nA,mower\n".encode("utf-16")):
        assert parse("machines", data).refused[0].reason == "the text is not UTF-8"


def test_too_many_lines_are_refused_and_the_first_ones_read():
    text = "name\n" + "".join(f"P{number}\n" for number in range(MAX_ROWS["people"] + 5))
    parsed = parse("people", text.encode())
    assert len(parsed.rows) == MAX_ROWS["people"]
    assert [refusal.sentence for refusal in parsed.refused] == [
        "Line 2002: the file has more than 2,000 lines. Split it and import each part."
    ]


# Values


@pytest.mark.parametrize(
    ("kind", "text", "reason", "cure"),
    [
        ("plots", "name,property,acres\nA,E,-3\n", "acres is -3", "Give acres above 0."),
        ("plots", "name,property,acres\nA,E,0\n", "acres is 0", "Give acres above 0."),
        ("plots", "name,property,acres\nA,E,nan\n", "acres is 'nan', which is no number", "Give acres above 0."),
        ("plots", "name,property,acres\nA,E,1_0\n", "acres is '1_0', which is no number", "Give acres above 0."),
        ("plots", "name,property,acres\nA,E,1e3\n", "acres is '1e3', which is no number", "Give acres above 0."),
        (
            "plots",
            "name;property;acres\nA;E;2,5\n",
            "acres is '2,5', which is no number",
            "Write the decimals after a point.",
        ),
        (
            "plots",
            "name,property,acres\n,E,2\n",
            "name is empty",
            "Give it: Name, at most 80 characters, once in the file.",
        ),
        (
            "plots",
            "name,property,acres,latitude\nA,E,2,42\n",
            "it has one of latitude and longitude",
            "Give both or neither.",
        ),
        (
            "plots",
            "name,property,acres,latitude\nA,E,2,-93.5\n",
            "latitude is -93.5",
            "Give a latitude from -90 to 90.",
        ),
        (
            "days",
            "date,high_f\n5/9/2026,68\n",
            "date is '5/9/2026', which is no date",
            "Write year, month and day like 2026-05-09.",
        ),
        (
            "days",
            "date,high_f\n2026-02-30,68\n",
            "date is '2026-02-30', which is no date",
            "Write year, month and day like 2026-05-09.",
        ),
        ("days", "date,high_f\n0001-01-01,68\n", "date is 0001-01-01", "Give a day from 1850-01-01 to 2100-12-31."),
        ("days", "date,high_f,low_f\n2026-05-09,44,68\n", "the high 44 is below the low 68", "Check both."),
        ("days", "date,high_f\n2026-05-09,\n", "it has a date and no value", "Give a value, or take the line out."),
        ("days", "date,high_f\n2026-05-09,150\n", "high_f is 150", "Give degrees F from -80 to 140."),
        (
            "days",
            "date,rain_in\n2026-05-09,-0.1\n",
            "rain_in is -0.1",
            "Give inches of rain from 0 to 60, or T for a trace.",
        ),
        ("days", "date,high_f\n2026-05-09,T\n", "high_f is 'T', which is no number", "Give degrees F from -80 to 140."),
        ("hours", "time,wind_mph\n2026-05-09T14:00Z,300\n", "wind_mph is 300", "Give miles per hour from 0 to 250."),
        ("hours", "time,wind_mph,gust_mph\n2026-05-09T14:00Z,20,9\n", "the gust 9 is below the wind 20", "Check both."),
        (
            "hours",
            "time,temp_f,issued\n2026-05-09T14:00Z,70,2026-05-09T15:00Z\n",
            "it is issued after the hour that it forecasts",
            "Check both times; leave issued empty if read.",
        ),
        (
            "hours",
            "time,temp_f\n2026-05-09T14:00Z,\n",
            "it has a time and no value",
            "Give a value, or take the line out.",
        ),
        (
            "hours",
            "time,temp_f\nnoon,70\n",
            "time is 'noon', which is no time",
            "Write it like 2026-05-09T14:00-05:00.",
        ),
        (
            "hours",
            "time,temp_f\n2026-05-09T25:00Z,70\n",
            "time is '2026-05-09T25:00Z', which is no time",
            "Write it like 2026-05-09T14:00-05:00.",
        ),
        (
            "hours",
            "time,temp_f\n1700-05-09T14:00Z,70\n",
            "time is '1700-05-09T14:00Z', which is no time",
            "Write it like 2026-05-09T14:00-05:00.",
        ),
        (
            "hours",
            "time,temp_f\n2026-05-09T14:00,70\n",
            "time has neither offset nor zone",
            "Write 2026-05-09T14:00-05:00, or name the time zone.",
        ),
        (
            "hours",
            "time,zone,temp_f\n2026-05-09T14:00,Mars/Base,70\n",
            "zone is 'Mars/Base', which is no time zone",
            "Give a name like America/Chicago.",
        ),
        (
            "hours",
            "time,zone,temp_f\n2026-05-09T14:00,../etc,70\n",
            "zone is '../etc', which is no time zone",
            "Give a name like America/Chicago.",
        ),
        (
            "people",
            "name,email\nA,pat at example\n",
            "email is 'pat at example', which is no mail address",
            "Give one like pat@example.org, or leave it empty.",
        ),
        ("people", "name,role\nA,boss\n", "role is 'boss'", "Give one of: manager, helper, viewer."),
        ("people", "name,crews\nA," + "x" * 81 + "\n", "crews has 81 characters", "Give at most 80."),
        ("people", "name\nA\x00B\n", "name has a line break or another control character", "Write it on one line."),
        ("machines", "name,kind,with_operator\nA,mower,maybe\n", "with_operator is 'maybe'", "Give one of: yes, no."),
        (
            "machines",
            "name,kind,efficiency\nA,mower,60\n",
            "efficiency is 60",
            "Give a share above 0, at most 1, like 0.6.",
        ),
        (
            "materials",
            "name,kind,unit,lead_days\nA,seed,lb,7.5\n",
            "lead_days is '7.5'",
            "Give a whole number from 0 to 365.",
        ),
        (
            "materials",
            "name,kind,unit,lead_days\nA,seed,lb,999\n",
            "lead_days is '999'",
            "Give a whole number from 0 to 365.",
        ),
        (
            "materials",
            "name,kind,unit,lot\nA,seed,lb,L1\n",
            "it has a lot and no amount in store",
            "Give on_hand as well.",
        ),
    ],
)
def test_a_value_that_cannot_be_taken_is_refused_with_what_to_do(kind, text, reason, cure):
    assert sentences(kind, text) == [f"Line 2: {reason}. {cure}"]


def test_every_fault_of_a_line_is_said_and_the_other_lines_are_read():
    parsed = parse("days", b"date,high_f,low_f\n2026-05-09,hot,cold\n2026-05-10,70,50\n")
    assert [refusal.where for refusal in parsed.refused] == ["Line 2", "Line 2"]
    assert [row.where for row in parsed.rows] == ["Line 3"]


@pytest.mark.parametrize(
    ("kind", "text", "reason", "cure"),
    [
        ("people", "name\nPat\nPAT\n", "the name 'PAT' stands in line 2 already", "Keep one of them."),
        (
            "days",
            "date,high_f\n2026-05-09,68\n2026-05-09,69\n",
            "the day 2026-05-09 stands in line 2 already",
            "Keep one of them.",
        ),
        (
            "hours",
            "time,temp_f\n2026-05-09T14:00Z,68\n2026-05-09T09:00-05:00,69\n",
            "the hour 2026-05-09 14:00 UTC stands in line 2 already",
            "Keep one of them.",
        ),
        ("plots", "name,property,acres\nA,E,1\na,e,2\n", "the name 'a' stands in line 2 already", "Keep one of them."),
        (
            "materials",
            "name,kind,unit\nA,seed,lb\nA,seed,lb\n",
            "the name 'A' stands in line 2 already",
            "Keep one of them.",
        ),
    ],
)
def test_what_must_come_once_is_refused_the_second_time(kind, text, reason, cure):
    assert sentences(kind, text) == [f"Line 3: {reason}. {cure}"]


def test_the_same_plot_name_on_two_properties_and_two_lots_of_a_material_are_fine():
    assert len(rows("plots", "name,property,acres\nA,E,1\nA,W,2\n")) == 2
    assert len(rows("materials", "name,kind,unit,on_hand,lot\nA,seed,lb,1,L1\nA,seed,lb,2,L2\n")) == 2


def test_an_hour_that_comes_twice_or_never_asks_for_its_offset():
    cure = "Write it with its offset, like 2026-05-09T14:00-05:00."
    text = "time,temp_f\n2026-11-01 01:30,40\n2026-03-08 02:30,40\n2026-11-01 00:30,40\n"
    assert sentences("hours", text, zone="America/Chicago") == [
        f"Line 2: time 2026-11-01 01:30 comes twice in America/Chicago (clocks change). {cure}",
        f"Line 3: time 2026-03-08 02:30 does not exist in America/Chicago (clocks change). {cure}",
    ]


def test_an_import_into_an_unknown_zone_is_refused():
    assert sentences("hours", "time,temp_f\n2026-05-09T14:00Z,70\n", zone="Nowhere") == [
        "File: the time zone is 'Nowhere', which is no time zone. Give a name like America/Chicago."
    ]


def test_a_long_foreign_value_is_shortened():
    (sentence,) = sentences("people", "name,role\nA," + "x" * 5_000 + "\n")
    assert len(sentence) < 120


# The whole


def test_every_column_says_what_it_holds():
    for kind, columns in COLUMNS.items():
        assert len({column.name for column in columns}) == len(columns), kind
        assert all(column.meaning.endswith(".") for column in columns), kind


@given(st.sampled_from(sorted(COLUMNS)), st.binary(max_size=200))
def test_no_bytes_bring_a_parser_down(kind, data):
    header = ",".join(column.name for column in COLUMNS[kind]).encode() + b"\n"
    for each in (data, header + data):
        parsed = parse(kind, each)
        assert parsed.rows or parsed.refused


@given(st.sampled_from(KINDS), st.binary(max_size=60))
def test_no_bytes_bring_an_import_down(kind, data):
    parsed = parse(kind, data)
    assert parsed.rows or parsed.refused


def test_an_unknown_kind_an_empty_and_an_oversized_file_are_refused():
    with pytest.raises(ValueError, match=r"'xls' is no kind of import file. Known: geojson, kml"):
        parse("xls", b"")
    assert parse("days", b" \n").refused[0].reason == "the file is empty"
    assert "more than 10,000,000" in parse("days", b"x" * 10_000_001).refused[0].reason
