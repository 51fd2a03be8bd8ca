"""Primary nesting seasons by state, as data with its source: a proposal for a contract's closed days. Pure."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass

MONTH_DAY = re.compile(r"(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])")


@dataclass(frozen=True, slots=True)
class NestingSeason:
    """First and last closed day of a state as month and day, for contracts that begin in some years."""

    state: str
    first: str
    last: str
    publisher: str
    year: str
    worth: str
    begins_from: int | None = None
    begins_before: int | None = None

    @property
    def cited(self) -> str:
        return f"Nesting season of {self.state}: {self.publisher}, {self.year}"


def read_nesting(text: str) -> tuple[NestingSeason, ...]:
    """The seasons of a TOML text.

    Raises:
        ValueError: a day is no month and day; TypeError: a field is missing or not known.
    """
    found = tuple(NestingSeason(**row) for row in tomllib.loads(text)["season"])
    for season in found:
        if not (MONTH_DAY.fullmatch(season.first) and MONTH_DAY.fullmatch(season.last)):
            raise ValueError(f"{season.state}: days are given as month and day, like 04-15.")
    return found


def season_of(seasons: Iterable[NestingSeason], state: str, begins: int) -> NestingSeason | None:
    """The season of a state for a contract that begins in a year; None where none is known, or more than one fits."""
    fitting = [
        season
        for season in seasons
        if season.state == state.upper()
        and (season.begins_from is None or begins >= season.begins_from)
        and (season.begins_before is None or begins < season.begins_before)
    ]
    return fitting[0] if len(fitting) == 1 else None
