"""Daily history and normals of a station as the National Centers for Environmental Information publish them.

GHCN-Daily: by-year CSV lines `id,YYYYMMDD,element,value,mflag,qflag,sflag,time` and fixed-width `.dly` files; tenths
of a degree Celsius and of a millimetre; the file of one station is CSV with a header, a line a day, the same units,
and beside each element its `_ATTRIBUTES` "mflag,qflag,sflag,time". A value with a quality flag failed a check and is
dropped, -9999 is missing.
Climate normals: CSV with a header row, degrees Fahrenheit and inches, codes below -6000 are missing. Freeze
probabilities stand in the annual normals as days ("05/11") by threshold and level.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from plots.forecasts.values import Unusable, fahrenheit

SOURCE = "ghcn"
"""The source of a station's series."""
MISSING = -9999
ELEMENTS = {"TMAX": "high_f", "TMIN": "low_f", "PRCP": "rain_in"}
RANGES = {"high_f": (-80.0, 140.0), "low_f": (-90.0, 120.0), "rain_in": (0.0, 60.0)}
FIELDS = 8
DLY_LENGTH = 269


@dataclass(frozen=True, slots=True)
class StationDay:
    """One local civil day of a station; None is missing."""

    station: str
    day: date
    high_f: float | None = None
    low_f: float | None = None
    rain_in: float | None = None


def by_year(lines: Iterable[str]) -> list[StationDay]:
    """Days of by-year lines, by station and day.

    Raises:
        Unusable: a line has not the eight fields of the format; its number is named.
    """
    return _days(_from_lines(lines))


def dly(lines: Iterable[str]) -> list[StationDay]:
    """Days of a fixed-width `.dly` file, by station and day.

    Raises:
        Unusable: a line is not as long as the format says; its number is named.
    """
    return _days(_from_dly(lines))


def one_station(lines: Iterable[str], station: str) -> list[StationDay]:
    """Days of the file of one station, in order.

    Raises:
        Unusable: it is cut off, of another station, or lacks its station, its day or all elements; a line is named.
    """
    return _days(_from_table(lines, station))


def _from_lines(lines: Iterable[str]) -> Iterator[tuple[str, date, str, int]]:
    for number, row in enumerate(csv.reader(lines), start=1):
        if not row:
            continue
        if len(row) != FIELDS:
            raise Unusable(f"Line {number} has {len(row)} fields, not {FIELDS}.")
        station, day, element, value, _, quality, *_ = row
        if element not in ELEMENTS or quality.strip():
            continue
        try:
            yield station, date(int(day[:4]), int(day[4:6]), int(day[6:8])), element, int(value)
        except ValueError as error:
            raise Unusable(f"Line {number} has no day or no whole number.") from error


def rows_of(lines: Iterable[str], station: str, needed: Iterable[str]) -> Iterator[tuple[int, dict[str, str]]]:
    """(line, fields by column) of a CSV file of one station with a header, every field stripped.

    Raises:
        Unusable: a needed column is missing, a line is cut off, or it is of another station.
    """
    reader = csv.reader(lines, strict=True)
    try:
        header = [name.strip() for name in next(reader, [])]
        missing = {"STATION", "DATE", *needed} - set(header)
        if missing:
            raise Unusable(f"The file has no column {', '.join(sorted(missing))}.")
        for row in reader:
            if len(row) != len(header):
                raise Unusable(f"Line {reader.line_num} has {len(row)} fields, not {len(header)}.")
            found = {name: field.strip() for name, field in zip(header, row, strict=True)}
            if found["STATION"] != station:
                raise Unusable(f"Line {reader.line_num} is of another station.")
            yield reader.line_num, found
    except csv.Error as error:
        raise Unusable(f"Line {reader.line_num} is cut off or no CSV.") from error


def _from_table(lines: Iterable[str], station: str) -> Iterator[tuple[str, date, str, int]]:
    for number, row in rows_of(lines, station, ()):
        if not ELEMENTS.keys() & row.keys():
            raise Unusable(f"The file has no column {', '.join(ELEMENTS)}.")
        here = [element for element in ELEMENTS if row.get(element)]
        try:
            day = date.fromisoformat(row["DATE"])
            for element in here:
                flags = row[f"{element}_ATTRIBUTES"].split(",")
                if not flags[1].strip():
                    yield station, day, element, int(row[element])
        except (ValueError, KeyError, IndexError) as error:
            raise Unusable(f"Line {number} has no day, no whole number or no quality flag.") from error


def _from_dly(lines: Iterable[str]) -> Iterator[tuple[str, date, str, int]]:
    for number, raw in enumerate(lines, start=1):
        line = raw.rstrip("\n")
        if not line:
            continue
        if len(line) != DLY_LENGTH:
            raise Unusable(f"Line {number} has {len(line)} characters, not {DLY_LENGTH}.")
        element = line[17:21]
        if element not in ELEMENTS:
            continue
        for at in range(31):
            cell = line[21 + 8 * at : 29 + 8 * at]
            try:
                value = int(cell[:5])
                if value == MISSING or cell[6].strip():
                    continue
                yield line[:11], date(int(line[11:15]), int(line[15:17]), at + 1), element, value
            except ValueError as error:
                raise Unusable(f"Line {number}, day {at + 1}: no day or no whole number.") from error


def _days(values: Iterable[tuple[str, date, str, int]]) -> list[StationDay]:
    found: dict[tuple[str, date], dict[str, float]] = {}
    for station, day, element, tenths in values:
        name = ELEMENTS[element]
        value = tenths / 254.0 if name == "rain_in" else fahrenheit(tenths / 10.0)
        least, most = RANGES[name]
        if tenths != MISSING and least <= value <= most:
            found.setdefault((station, day), {})[name] = value
    return [StationDay(station, day, **found[station, day]) for station, day in sorted(found)]


@dataclass(frozen=True, slots=True)
class NormalDay:
    """The normal of one day of the year ("02-28"); degree days by the published column ("BASE50", "TB5086")."""

    month_day: str
    high_f: float | None
    low_f: float | None
    degree_days: Mapping[str, float]


DAYS_OF_A_YEAR = 365
DEGREE_DAYS = "DLY-GRDD-"
LOWEST_CODE = -6000.0
JULY_HIGH_F = (40.0, 125.0)
"""A July high outside means that the file is in tenths or in degrees Celsius."""


def normals(lines: Iterable[str]) -> list[NormalDay]:
    """The days of a daily-normals file, in the order of the year.

    Raises:
        Unusable: a needed column is missing, or July's highs cannot be degrees Fahrenheit.
    """
    reader = csv.DictReader(lines)
    names = [name.strip() for name in reader.fieldnames or ()]
    missing = {"DATE", "DLY-TMAX-NORMAL", "DLY-TMIN-NORMAL"} - set(names)
    if missing:
        raise Unusable(f"The file has no column {', '.join(sorted(missing))}.")
    reader.fieldnames = names
    days = []
    for row in reader:
        high, low = (_normal(row.get(f"DLY-{element}-NORMAL")) for element in ("TMAX", "TMIN"))
        sums = {
            name.removeprefix(DEGREE_DAYS): _normal(row.get(name)) for name in names if name.startswith(DEGREE_DAYS)
        }
        known = {name: value for name, value in sums.items() if value is not None}
        days.append(NormalDay(str(row["DATE"]).strip()[-5:], high, low, known))
    july = [day.high_f for day in days if day.month_day.startswith("07-") and day.high_f is not None]
    if july and not all(JULY_HIGH_F[0] <= high <= JULY_HIGH_F[1] for high in july):
        raise Unusable("July's normal highs are no degrees Fahrenheit: ask for standard units.")
    return sorted(days, key=lambda day: day.month_day)


def normals_of(lines: Sequence[str], station: str) -> list[NormalDay]:
    """The days of the daily-normals file of one station, whole.

    Raises:
        Unusable: as `normals`, and where a day of the year is missing, a line is cut off or of another station.
    """
    dates = {row["DATE"][-5:] for _, row in rows_of(lines, station, ())}
    days = normals(lines)
    if len(dates) != len(days) or len(dates) < DAYS_OF_A_YEAR:
        raise Unusable(f"The file has {len(dates)} days of the year in {len(days)} lines.")
    return days


def _normal(text: str | None) -> float | None:
    try:
        value = float(text or "")
    except ValueError:
        return None
    return value if value > LOWEST_CODE else None


@dataclass(frozen=True, slots=True)
class FreezeDays:
    """The day of the year ("05-11") by level in percent, at or below so many degrees F.

    In spring the level is the chance that it comes so cold on a later day, in autumn on an earlier one: the 10 percent
    day in spring is the late, safe one, in autumn the early one."""

    threshold_f: int
    spring: Mapping[int, str]
    autumn: Mapping[int, str]


_FREEZE = re.compile(r"ANN-TMIN-PRB(LST|FST)-T(\d\d)FP(\d\d)")
_MONTH_DAY = re.compile(r"(\d\d)/(\d\d)")


def freeze_days(lines: Iterable[str]) -> dict[int, FreezeDays]:
    """By threshold the freeze probabilities of an annual-normals file of one station.

    Raises:
        Unusable: the file is of more than one station or has no freeze probability.
    """
    reader = csv.DictReader(lines)
    rows = [
        {str(name).strip(): value.strip() for name, value in row.items() if isinstance(value, str)} for row in reader
    ]
    if len(rows) != 1:
        raise Unusable(f"The file has {len(rows)} lines of normals, not one of one station.")
    days: dict[int, dict[str, dict[int, str]]] = {}
    for name, text in rows[0].items():
        column, day = _FREEZE.fullmatch(name), _MONTH_DAY.fullmatch(text)
        if column is not None and day is not None:
            here = days.setdefault(int(column[2]), {"LST": {}, "FST": {}})
            here[column[1]][int(column[3])] = f"{day[1]}-{day[2]}"
    if not days:
        raise Unusable("The file has no freeze probability: ask for the annual and seasonal normals.")
    return {at: FreezeDays(at, found["LST"], found["FST"]) for at, found in sorted(days.items())}


def freeze_risk(days: FreezeDays, month_day: str) -> tuple[int, int] | None:
    """(more than, at most) percent of years in which it still freezes after a day of spring, or has frozen before a day
    of autumn, between the published levels; None where none are published. Summer begins at 1 July."""
    in_spring = month_day < "07-01"
    levels = days.spring if in_spring else days.autumn
    if not levels:
        return None
    still = [level for level, day in levels.items() if (day > month_day if in_spring else day <= month_day)]
    past = [level for level in levels if level not in still]
    return max(still, default=0), min(past, default=100)
