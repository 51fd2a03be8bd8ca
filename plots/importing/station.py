"""Files of a weather station as the National Centers for Environmental Information publish them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from plots.edges import LatLon
from plots.forecasts import Unusable
from plots.forecasts.stations import DLY_LENGTH, NormalDay, StationDay, by_year, dly, normals
from plots.importing.rows import DayRow, NormalRow, Parsed, refused_file

Read = TypeVar("Read")
SPECS = {"TB5086": "86/50", "TB4886": "86/48"}
BASE = "BASE"


def parse_normals(data: bytes, near: LatLon | None) -> Parsed:
    """Daily normals of one station, degrees Fahrenheit; degree days as far as the file has them."""
    found = _read(data, normals, "Ask for daily normals 1991-2020 as CSV in standard units.")
    if isinstance(found, Parsed):
        return found
    rows = {day.month_day: normal_row(day) for day in found}
    if len(rows) != len(found):
        return refused_file("a day of the year stands in it twice", "Ask for one station alone.")
    return Parsed(rows=list(rows.values()))


def normal_row(day: NormalDay) -> NormalRow:
    degree_days = {key: value for name, value in day.degree_days.items() if (key := _spec(name)) is not None}
    return NormalRow(f"Day {day.month_day}", day.month_day, day.high_f, day.low_f, degree_days)


def day_row(day: StationDay) -> DayRow:
    return DayRow(f"Day {day.day}", day.day, day.high_f, day.low_f, day.rain_in)


def _spec(column: str) -> str | None:
    """The way of counting ("86/50", "40") of a published column of degree days."""
    number = column.removeprefix(BASE)
    return number if column.startswith(BASE) and number.isdigit() else SPECS.get(column)


def parse_history(data: bytes, near: LatLon | None) -> Parsed:
    """Daily history of one station, by-year lines or the fixed-width form."""
    found = _read(data, _days, "Ask for GHCN-Daily of one station, as by-year CSV or .dly.")
    if isinstance(found, Parsed):
        return found
    stations = sorted({day.station for day in found})
    if len(stations) != 1:
        return refused_file(f"it has days of {len(stations)} stations", "Keep the lines of one station.")
    return Parsed(
        rows=[day_row(day) for day in found],
        notes=[f"Days of station {stations[0]}; values that failed a check of the service are left out."],
    )


def _days(lines: Sequence[str]) -> list[StationDay]:
    return dly(lines) if lines and len(lines[0]) == DLY_LENGTH and "," not in lines[0][:17] else by_year(lines)


def _read(data: bytes, read: Callable[[Sequence[str]], list[Read]], cure: str) -> list[Read] | Parsed:
    try:
        lines = data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        return refused_file("the text is not UTF-8", cure)
    try:
        found = read([line for line in lines if not line.startswith("#")])
    except Unusable as error:
        sentence = str(error).rstrip(".")
        return refused_file(sentence[:1].lower() + sentence[1:], cure)
    return found or refused_file("it has no day with a value", cure)
