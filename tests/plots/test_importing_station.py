"""Station files: daily normals and daily history, told by their form, one station a file."""

import pytest

from plots.importing import NormalRow, guess_kind, parse

NORMALS = b"STATION,DATE,DLY-TMAX-NORMAL,DLY-TMIN-NORMAL,DLY-GRDD-TB5086,DLY-GRDD-BASE40\n"
LINE = b"XX000000001,20240501,TMAX,206,,,W,2400\n"


def refusal(kind: str, data: bytes) -> str:
    (found,) = parse(kind, data).refused
    return f"{found.where}: {found.reason}"


def test_normals_keep_degree_days_by_their_way_of_counting() -> None:
    (row,) = parse("normals", NORMALS + b"X,07-15,82.9,61.8,22,-7777\n").rows
    assert row == NormalRow("Day 07-15", "07-15", 82.9, 61.8, {"86/50": 22.0})


@pytest.mark.parametrize(
    ("kind", "data", "reason"),
    [
        ("normals", b"STATION,DATE\nX,07-15\n", "File: the file has no column"),
        ("normals", NORMALS + b"X,07-15,829,618,220,1\n", "File: july's normal highs"),
        (
            "normals",
            NORMALS + b"X,07-15,82,61,22,1\nY,07-15,80,60,20,1\n",
            "File: a day of the year stands in it twice",
        ),
        ("normals", b"\xff\xfe", "File: the text is not UTF-8"),
        ("history", b"XX000000001,20240501,TMAX\n", "File: line 1 has 3 fields"),
        ("history", LINE + LINE.replace(b"XX000000001", b"XX000000002"), "File: it has days of 2 stations"),
        ("history", LINE.replace(b"TMAX", b"SNWD"), "File: it has no day with a value"),
    ],
)
def test_what_is_no_station_file_is_refused_whole(kind: str, data: bytes, reason: str) -> None:
    assert refusal(kind, data).startswith(reason)


@pytest.mark.parametrize(
    ("name", "data", "kind"),
    [
        ("a.csv", NORMALS + b"X,07-15,82.9,61.8,22,36\n", "normals"),
        ("b.csv", LINE, "history"),
        ("XX000000001.dly", b"", "history"),
        ("c.csv", b"date,high_f,low_f\n2026-05-01,70,50\n", "days"),
    ],
)
def test_a_station_file_is_told_by_its_form(name: str, data: bytes, kind: str) -> None:
    assert guess_kind(name, data) == kind
