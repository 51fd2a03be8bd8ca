"""The columns of the CSV tables: what each holds, in which unit, and what it may say."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from plots.importing.rows import MACHINE_STATES, MAX_NAME, MAX_NOTE, PLOT_KINDS, ROLES

FIRST_DAY = date(1850, 1, 1)
LAST_DAY = date(2100, 12, 31)

_NUMBER = re.compile(r"[+-]?(\d{1,12}(\.\d{0,20})?|\.\d{1,20})")
_ADDRESS = re.compile(r"[^@\s]+@[^@\s.]+(\.[^@\s.]+)+")


class BadCell(ValueError):
    """One value that cannot be taken: the reason after the column's name, and the cure."""

    def __init__(self, reason: str, cure: str) -> None:
        super().__init__(reason)
        self.reason = reason
        self.cure = cure


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name is its key in the file, `meaning` says what it holds with its unit and range."""

    name: str
    meaning: str
    read: Callable[[str], Any]
    required: bool = False


def _text(longest: int = MAX_NAME) -> Callable[[str], str]:
    def read(word: str) -> str:
        if len(word) > longest:
            raise BadCell(f"has {len(word)} characters", f"Give at most {longest}.")
        if any(unicodedata.category(char) == "Cc" for char in word):
            raise BadCell("has a line break or another control character", "Write it on one line.")
        return word

    return read


def _number(low: float, high: float, allowed: str, above: bool = False, trace: bool = False) -> Callable[[str], float]:
    """Reads a number from low to high (above low if `above`); `allowed` says so.

    `trace`: "T", too little rain to measure, is 0.
    """

    def read(word: str) -> float:
        if trace and word in ("T", "t"):
            return 0.0
        if not _NUMBER.fullmatch(word):
            cure = "Write the decimals after a point." if re.fullmatch(r"[+-]?\d+,\d+", word) else f"Give {allowed}."
            raise BadCell(f"is '{short(word)}', which is no number", cure)
        number = float(word)
        if not low <= number <= high or (above and number == low):
            raise BadCell(f"is {word}", f"Give {allowed}.")
        return number

    return read


def _whole(low: int, high: int) -> Callable[[str], int]:
    def read(word: str) -> int:
        if not re.fullmatch(r"\d{1,9}", word) or not low <= int(word) <= high:
            raise BadCell(f"is '{short(word)}'", f"Give a whole number from {low} to {high}.")
        return int(word)

    return read


def _choice(*choices: str) -> Callable[[str], str]:
    def read(word: str) -> str:
        found = word.lower().replace(" ", "_")
        if found not in choices:
            raise BadCell(f"is '{short(word)}'", f"Give one of: {', '.join(choices)}.")
        return found

    return read


def _yes_no(word: str) -> bool:
    return _choice("yes", "no")(word) == "yes"


def _day(word: str) -> date:
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", word):
            raise ValueError
        found = date.fromisoformat(word)
    except ValueError:
        raise BadCell(f"is '{short(word)}', which is no date", "Write year, month and day like 2026-05-09.") from None
    if not FIRST_DAY <= found <= LAST_DAY:
        raise BadCell(f"is {word}", f"Give a day from {FIRST_DAY} to {LAST_DAY}.")
    return found


def read_zone(word: str) -> str:
    try:
        ZoneInfo(word)
    except (KeyError, OSError, ValueError):
        raise BadCell(f"is '{short(word)}', which is no time zone", "Give a name like America/Chicago.") from None
    return word


def _address(word: str) -> str:
    if len(word) > 254 or not _ADDRESS.fullmatch(word):
        raise BadCell(
            f"is '{short(word)}', which is no mail address", "Give one like pat@example.org, or leave it empty."
        )
    return word.lower()


def _several(word: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_text()(" ".join(part.split())) for part in word.split("/") if part.strip()))


_NAME = Column("name", f"Name, at most {MAX_NAME} characters, once in the file.", _text(), required=True)
_NOTE = Column("note", "Remark.", _text(MAX_NOTE))
_RAIN_DAY = _number(0, 60, "inches of rain from 0 to 60, or T for a trace", trace=True)
_RAIN_HOUR = _number(0, 20, "inches of rain from 0 to 20, or T for a trace", trace=True)
_WIND = _number(0, 250, "miles per hour from 0 to 250")

COLUMNS: Mapping[str, tuple[Column, ...]] = {
    "people": (
        _NAME,
        Column("role", "manager, helper (if empty) or viewer.", _choice(*ROLES)),
        Column("email", "Mail address.", _address),
        Column("zone", "Time zone like America/Chicago; empty: that of the holding.", read_zone),
        Column("crews", "Crews, with / between several.", _several),
    ),
    "machines": (
        _NAME,
        Column("kind", "What it is: tractor, sprayer, planter, mower ...", _text(30), required=True),
        Column(
            "width_ft", "Working width, above 0 to 200 ft.", _number(0, 200, "a width above 0, at most 200 ft", True)
        ),
        Column(
            "speed_mph", "Working speed, above 0 to 60 mph.", _number(0, 60, "a speed above 0, at most 60 mph", True)
        ),
        Column(
            "efficiency", "Field efficiency, above 0 to 1.", _number(0, 1, "a share above 0, at most 1, like 0.6", True)
        ),
        Column("at_property", "Name of the property it stands at.", _text()),
        Column("state", "works (if empty), down, on_loan or hired.", _choice(*MACHINE_STATES)),
        Column("until", "Day until which it is down, on loan or hired.", _day),
        Column("with_operator", "yes if it comes with its operator.", _yes_no),
        _NOTE,
    ),
    "materials": (
        _NAME,
        Column("kind", "What it is: seed, herbicide, fertiliser, lime ...", _text(30), required=True),
        Column("unit", "Unit of its amounts: lb, gal, bag ...", _text(20), required=True),
        Column("active", "Active ingredients.", _text(120)),
        Column("analysis", "Analysis such as 18-46-0.", _text(60)),
        Column("pack_size", "Units in a pack, above 0.", _number(0, 1e6, "an amount above 0, at most 1,000,000", True)),
        Column("lead_days", "Days from order to delivery, 0 to 365.", _whole(0, 365)),
        Column("restricted", "yes if only a certified applicator may use it.", _yes_no),
        Column("on_hand", "Units in store, 0 or more.", _number(0, 1e9, "an amount from 0 to 1,000,000,000")),
        Column("lot", "Number on the bag of what is in store.", _text(60)),
        _NOTE,
    ),
    "plots": (
        _NAME,
        Column("property", "Name of its property.", _text(), required=True),
        Column("acres", "Size, above 0 to 100,000 acres.", _number(0, 100_000, "acres above 0", True), required=True),
        Column("kind", f"One of {', '.join(PLOT_KINDS)}; food_plot if empty.", _choice(*PLOT_KINDS)),
        Column("latitude", "Degrees north, -90 to 90.", _number(-90, 90, "a latitude from -90 to 90")),
        Column(
            "longitude",
            "Degrees east, -180 to 180 (west is below 0).",
            _number(-180, 180, "a longitude from -180 to 180"),
        ),
        Column("texture", "Soil texture.", _text(30)),
        _NOTE,
    ),
    "days": (
        Column("date", "Local civil day like 2026-05-09, once in the file.", _day, required=True),
        Column("high_f", "High, -80 to 140 degrees F.", _number(-80, 140, "degrees F from -80 to 140")),
        Column(
            "low_f", "Low, -90 to 120 degrees F, not above the high.", _number(-90, 120, "degrees F from -90 to 120")
        ),
        Column("rain_in", "Rain and melted snow, 0 to 60 inches; T is a trace.", _RAIN_DAY),
    ),
    "hours": (
        Column(
            "time",
            "2026-05-09T14:00-05:00, or with Z for UTC; without an offset it is local time of the zone.",
            _text(40),
            required=True,
        ),
        Column("zone", "Time zone of a time without offset, like America/Chicago.", read_zone),
        Column("temp_f", "Air temperature, -90 to 140 degrees F.", _number(-90, 140, "degrees F from -90 to 140")),
        Column("humidity_pct", "Relative humidity, 0 to 100 %.", _number(0, 100, "per cent from 0 to 100")),
        Column("wind_mph", "Wind, 0 to 250 mph.", _WIND),
        Column("gust_mph", "Gusts, 0 to 250 mph.", _WIND),
        Column(
            "wind_dir_deg", "Where the wind comes from, 0 to 360 degrees.", _number(0, 360, "degrees from 0 to 360")
        ),
        Column("rain_in", "Rain of the hour, 0 to 20 inches; T is a trace.", _RAIN_HOUR),
        Column("issued", "When a forecast was issued, written like the time; empty: the hour was observed.", _text(40)),
    ),
}
"""Every column that a file of a kind may have."""


def short(word: str) -> str:
    """A foreign word for a sentence."""
    return word if len(word) <= 40 else word[:40] + "..."
