"""Freeze probabilities of a station as the National Centers for Environmental Information publish them.

Albany (USW00014735), Climate Normals 1991-2020, annual and seasonal; the figures as public test suites carry them."""

import pytest

from plots.forecasts.stations import freeze_days

COLUMNS = {
    "ANN-TMIN-PRBLST-T32FP10": "05/11",
    "ANN-TMIN-PRBLST-T32FP50": "04/27",
    "ANN-TMIN-PRBLST-T32FP90": "04/16",
    "ANN-TMIN-PRBFST-T32FP10": "10/03",
    "ANN-TMIN-PRBFST-T32FP50": "10/15",
    "ANN-TMIN-PRBFST-T32FP90": "11/01",
    "ANN-TMIN-PRBLST-T28FP50": "04/16",
    "ANN-TMIN-PRBFST-T28FP50": "10/28",
}


@pytest.mark.parametrize(
    ("threshold", "season", "level", "day"),
    [
        (32, "spring", 10, "05-11"),
        (32, "spring", 50, "04-27"),
        (32, "spring", 90, "04-16"),
        (32, "autumn", 10, "10-03"),
        (32, "autumn", 50, "10-15"),
        (32, "autumn", 90, "11-01"),
        (28, "spring", 50, "04-16"),
        (28, "autumn", 50, "10-28"),
    ],
)
def test_the_days_of_albany_are_read_as_published(threshold: int, season: str, level: int, day: str) -> None:
    lines = [",".join(["STATION", *COLUMNS]), ",".join(["USW00014735", *COLUMNS.values()])]
    assert getattr(freeze_days(lines)[threshold], season)[level] == day
