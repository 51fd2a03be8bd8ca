"""From the month-days of a sequence to civil dates.

A season has an anchor year: the season labelled 2027 has anchor year 2027. Days of a sequence are written "05-10" for
that year, "+1 02-15" for the year after and "-1 09-01" for the year before it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

_WRITTEN = re.compile(r"(?:([+-][1-9]) )?(\d\d)-(\d\d)")


@dataclass(frozen=True, slots=True, order=True)
class SeasonDay:
    """A day of a season: years from the anchor year, month, day of the month. Sorts in the order of the calendar."""

    year_offset: int
    month: int
    day: int

    def in_year(self, anchor_year: int) -> date:
        return date(anchor_year + self.year_offset, self.month, self.day)

    def __str__(self) -> str:
        sign = f"{self.year_offset:+d} " if self.year_offset else ""
        return f"{sign}{self.month:02d}-{self.day:02d}"


def read_day(text: str) -> SeasonDay:
    """The day that `text` names; a ValueError in plain words for anything that is no day of every year."""
    match = _WRITTEN.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise ValueError(f"'{text}' is no day; write month and day like 05-10, or +1 02-15 for the year after.")
    day = SeasonDay(int(match[1] or 0), int(match[2]), int(match[3]))
    try:
        date(2027, day.month, day.day)
    except ValueError:
        extra = " It is missing in three years of four; write 02-28 or 03-01." if text.endswith("02-29") else ""
        raise ValueError(f"'{text}' is a day that the calendar does not have.{extra}") from None
    return day


def anchor_year(first_day: date, season_first: SeasonDay) -> int:
    """The anchor year of a season that was begun on `first_day`, of a sequence whose seasons begin on `season_first`.

    It is the latest year whose season had begun by then, so a season begun late keeps its year."""
    year = first_day.year - season_first.year_offset
    return year if season_first.in_year(year) <= first_day else year - 1
