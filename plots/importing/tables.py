"""CSV tables: people, machines, materials, plots, daily and hourly weather.

The first line names the columns, in any order; lines above it that begin with # are remarks. Comma, semicolon or tab
stand between values, numbers have a decimal point, an empty value is "not known". UTF-8, with or without its mark.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from plots.importing.columns import COLUMNS, FIRST_DAY, LAST_DAY, BadCell, read_zone, short
from plots.importing.rows import (
    DayRow,
    HourRow,
    MachineRow,
    MaterialRow,
    NormalRow,
    Parsed,
    PersonRow,
    PlotRow,
    Refusal,
    Row,
    refused_file,
)

MAX_ROWS = {"people": 2_000, "machines": 2_000, "materials": 5_000, "plots": 5_000, "days": 50_000, "hours": 100_000}

_ROWS: Mapping[str, type] = {
    "people": PersonRow,
    "machines": MachineRow,
    "materials": MaterialRow,
    "plots": PlotRow,
    "days": DayRow,
}


def parse_table(kind: str, data: bytes, zone: str | None = None) -> Parsed:
    """Read a CSV file of a kind in `COLUMNS`; `zone` is for hourly times without an offset or a zone of their own.

    A line with any value that cannot be taken is refused whole, each such value with its reason.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return refused_file("the text is not UTF-8", "Save it as 'CSV UTF-8' and try again.")
    if zone is not None:
        try:
            read_zone(zone)
        except BadCell as cell:
            return refused_file(f"the time zone {cell.reason}", cell.cure)
    parsed = Parsed()
    lines = lines_of(text)
    try:
        number, header = next(lines, (0, []))
        fault = _header_fault(kind, [name.lower() for name in header], number)
        if fault is not None:
            parsed.refused.append(fault)
            return parsed
        _read_lines(kind, [name.lower() for name in header], lines, zone, parsed)
    except csv.Error as error:
        parsed.refused.append(Refusal("File", f"its quotes do not pair up ({error})", "Export it again as CSV."))
    if not parsed.rows and not parsed.refused:
        return refused_file("it has no lines below the names of the columns", "Export it again with its lines.")
    return parsed


def lines_of(text: str) -> Iterator[tuple[int, list[str]]]:
    """(number of its first line, trimmed values) of every line that is not blank, from the names of columns on."""
    source = io.StringIO(text, newline="")
    skipped = 0
    for line in source:
        if line.strip() and not line.startswith("#"):
            break
        skipped += 1
    else:
        return
    separator = max(",;\t", key=line.count)
    source.seek(0)
    for _ in range(skipped):
        source.readline()
    reader = csv.reader(source, delimiter=separator, strict=True)
    before = 0
    for values in reader:
        number, before = skipped + before + 1, reader.line_num
        trimmed = [value.strip() for value in values]
        while trimmed and not trimmed[-1]:
            trimmed.pop()  # spreadsheets leave separators at the end of lines
        if trimmed:
            yield number, trimmed


def _header_fault(kind: str, header: list[str], number: int) -> Refusal | None:
    known = {column.name for column in COLUMNS[kind]}
    listed = f"Known columns: {', '.join(column.name for column in COLUMNS[kind])}."
    where = f"Line {number}" if number else "File"
    if not header:
        return Refusal(where, "it has no line with the names of the columns", listed)
    for index, name in enumerate(header):
        if name not in known:
            said = f"column '{short(name)}' is not known" if name else f"column {index + 1} has no name"
            return Refusal(where, said, listed)
        if name in header[:index]:
            return Refusal(where, f"column '{name}' stands twice", "Keep one of them.")
    lacking = [column.name for column in COLUMNS[kind] if column.required and column.name not in header]
    if lacking:
        return Refusal(where, f"column '{lacking[0]}' is missing", f"Add it. {listed}")
    return None


def _read_lines(
    kind: str, header: list[str], lines: Iterator[tuple[int, list[str]]], zone: str | None, parsed: Parsed
) -> None:
    columns = {column.name: column for column in COLUMNS[kind]}
    seen: dict[object, int] = {}
    for count, (number, values) in enumerate(lines, 1):
        where = f"Line {number}"
        if count > MAX_ROWS[kind]:
            parsed.refused.append(
                Refusal(where, f"the file has more than {MAX_ROWS[kind]:,} lines", "Split it and import each part.")
            )
            return
        if len(values) > len(header):
            parsed.refused.append(
                Refusal(where, f"it has {len(values)} values for {len(header)} columns", "Put quotes around commas.")
            )
            continue
        given = dict(zip(header, values, strict=False))
        read: dict[str, Any] = {}
        faults: list[Refusal] = []
        for name in header:
            word = given.get(name, "")
            try:
                if word:
                    read[name] = columns[name].read(word)
                elif columns[name].required:
                    raise BadCell("is empty", f"Give it: {columns[name].meaning}")
            except BadCell as cell:
                faults.append(Refusal(where, f"{name} {cell.reason}", cell.cure))
        row: Row | None = None
        if not faults:
            try:
                row = _row(kind, where, read, zone)
                _check_row(row)
            except BadCell as cell:
                faults.append(Refusal(where, cell.reason, cell.cure))
        if row is not None and not faults:
            key = _key(row)
            if key not in seen:
                seen[key] = number
                parsed.rows.append(row)
                continue
            faults.append(Refusal(where, f"{_key_words(row)} stands in line {seen[key]} already", "Keep one of them."))
        parsed.refused.extend(faults)


def _row(kind: str, where: str, read: dict[str, Any], zone: str | None) -> Row:
    if kind == "hours":
        return _hour_row(where, read, zone)
    row: Row = _ROWS[kind](where, **read, **({} if kind == "days" else {"given": frozenset(read)}))
    return row


def _hour_row(where: str, read: dict[str, Any], zone: str | None) -> HourRow:
    own_zone = read.pop("zone", None) or zone
    at, issued = _instant(read.pop("time"), own_zone), read.pop("issued", None)
    return HourRow(where, at, **read, issued=None if issued is None else _instant(issued, own_zone, "issued"))


def _instant(word: str, zone: str | None, name: str = "time") -> datetime:
    """UTC instant of a written time; BadCell if it names none, or more than one. `name` is that of its column."""
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2})?(Z|[+-]\d{2}:?\d{2})?", word):
            raise ValueError
        found = datetime.fromisoformat(word)
        if not FIRST_DAY <= found.date() <= LAST_DAY:
            raise ValueError
    except ValueError:
        raise BadCell(f"{name} is '{short(word)}', which is no time", "Write it like 2026-05-09T14:00-05:00.") from None
    if found.tzinfo is not None:
        return found.astimezone(UTC)
    if zone is None:
        raise BadCell(f"{name} has neither offset nor zone", "Write 2026-05-09T14:00-05:00, or name the time zone.")
    first, second = (found.replace(tzinfo=ZoneInfo(zone), fold=fold) for fold in (0, 1))
    before, after = first.utcoffset(), second.utcoffset()
    if before is None or after is None or before == after:
        return first.astimezone(UTC)
    comes = "does not exist" if before < after else "comes twice"
    raise BadCell(
        f"{name} {word} {comes} in {zone} (clocks change)", "Write it with its offset, like 2026-05-09T14:00-05:00."
    )


def _check_row(row: Row) -> None:
    """BadCell if values that are fine each cannot stand together."""
    if isinstance(row, DayRow):
        if row.high_f is not None and row.low_f is not None and row.high_f < row.low_f:
            raise BadCell(f"the high {row.high_f:g} is below the low {row.low_f:g}", "Check both.")
        if row.high_f is None and row.low_f is None and row.rain_in is None:
            raise BadCell("it has a date and no value", "Give a value, or take the line out.")
    if isinstance(row, HourRow):
        if row.gust_mph is not None and row.wind_mph is not None and row.gust_mph < row.wind_mph:
            raise BadCell(f"the gust {row.gust_mph:g} is below the wind {row.wind_mph:g}", "Check both.")
        if (row.temp_f, row.humidity_pct, row.wind_mph, row.gust_mph, row.wind_dir_deg, row.rain_in) == (None,) * 6:
            raise BadCell("it has a time and no value", "Give a value, or take the line out.")
        if row.issued is not None and row.issued >= row.at + timedelta(hours=1):
            raise BadCell(
                "it is issued after the hour that it forecasts", "Check both times; leave issued empty if read."
            )
    if isinstance(row, PlotRow) and (row.latitude is None) != (row.longitude is None):
        raise BadCell("it has one of latitude and longitude", "Give both or neither.")
    if isinstance(row, MaterialRow) and row.lot and row.on_hand is None:
        raise BadCell("it has a lot and no amount in store", "Give on_hand as well.")


def _key(row: Row) -> object:
    """What must not come twice in a file."""
    if isinstance(row, DayRow):
        return row.date
    if isinstance(row, HourRow):
        return row.at, row.issued is None
    if isinstance(row, NormalRow):
        return row.month_day
    if isinstance(row, PlotRow):
        return row.property.casefold(), row.name.casefold()
    if isinstance(row, MaterialRow):
        return row.name.casefold(), row.lot.casefold()
    return row.name.casefold()


def _key_words(row: Row) -> str:
    if isinstance(row, DayRow):
        return f"the day {row.date}"
    if isinstance(row, HourRow):
        return f"the hour {row.at:%Y-%m-%d %H:%M} UTC"
    if isinstance(row, NormalRow):
        return f"the day {row.month_day}"
    return f"the name '{row.name}'"
