"""What a calculator asks for, and how an entry is read: its unit checked, its value held to the sensible range. Pure.

A bare number is in the entry's own unit; another unit of the same dimension is turned into it. What is absurd is
refused with the sensible range in a sentence.
"""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from plots.agronomy.measures import Measure, convert, dimension_of, measure, siblings

MOST_ROWS = 12
MOST_NUMBERS = 60
LONGEST_TEXT = 60


class Absurd(Exception):
    """Entries that cannot be meant: by the entry's path ("speed", "products.0.rate") the sentence."""

    def __init__(self, sentences: Mapping[str, str]) -> None:
        super().__init__(" ".join(sentences.values()))
        self.sentences = dict(sentences)


@dataclass(frozen=True, slots=True)
class Number:
    """A number in `unit`, from `low` to `high`. `default` None means that it has to be given, unless `optional`.

    `any_of` are (unit, low, high) of all dimensions that it may have, where there are several; the value then keeps the
    unit it was written in, as a `Measure`."""

    name: str
    label: str
    unit: str
    low: float
    high: float
    default: float | None = None
    optional: bool = False
    whole: bool = False
    help: str = ""
    any_of: tuple[tuple[str, float, float], ...] = ()

    kind = "number"

    def span(self) -> str:
        """The sensible range in words."""
        spans = self.any_of or ((self.unit, self.low, self.high),)
        return " or ".join(f"{figure(low)} to {figure(high)} {unit}".rstrip() for unit, low, high in spans)

    def read(self, told: Any) -> float | Measure | None:
        """The value in the entry's unit (a `Measure` with `any_of`), None where it may be left out and is.

        Raises:
            ValueError: the sentence says what is wrong and what is sensible.
        """
        if told is None or (isinstance(told, str) and not told.strip()):
            if self.default is not None:
                return Measure(self.default, self.unit) if self.any_of else self.default
            if self.optional:
                return None
            raise ValueError(f"{self.label}: missing. Give {self.span()}.")
        said = self._said(told)
        unit = said.unit or self.unit
        shown = f"{figure(said.value)} {unit}".rstrip()
        for own, low, high in self.any_of or ((self.unit, self.low, self.high),):
            try:
                value = said.value if unit == own else convert(said.value, unit, own)
            except ValueError:
                continue
            self._check(value, low, high, shown)
            if self.any_of:
                return Measure(said.value, unit)
            return float(round(value)) if self.whole else value
        raise ValueError(f"{self.label} cannot be in {unit}. Give it in {self._units()}: {self.span()} is sensible.")

    def _units(self) -> str:
        owns = [own for own, _, _ in self.any_of] or [self.unit]
        known = [unit for own in owns for unit in (siblings(own) if dimension_of(own) else [own or "no unit"])]
        short = known[:1] if len(known) == 1 else known[:8]
        return short[0] if len(short) == 1 else f"{', '.join(short[:-1])} or {short[-1]}"

    def _said(self, told: Any) -> Measure:
        if isinstance(told, str):
            try:
                return measure(told)
            except ValueError as error:
                raise ValueError(f"{self.label}: {error} Give {self.span()}.") from None
        if isinstance(told, bool) or not isinstance(told, int | float) or not abs(told) <= sys.float_info.max:
            raise ValueError(f"{self.label}: no number. Give {self.span()}.")
        return Measure(float(told), "")

    def _check(self, value: float, low: float, high: float, said: str) -> None:
        slack = 1e-9 * max(1.0, abs(value))
        if not low - slack <= value <= high + slack:
            raise ValueError(f"{self.label}: {said} makes no sense. Sensible is {self.span()}.")
        if self.whole and abs(value - round(value)) > slack:
            raise ValueError(f"{self.label}: {said} makes no sense. Give a whole number, {self.span()}.")


@dataclass(frozen=True, slots=True)
class Choice:
    """One of some words, each with its sentence."""

    name: str
    label: str
    options: tuple[tuple[str, str], ...]
    default: str | None = None
    help: str = ""

    kind = "choice"

    def read(self, told: Any) -> str:
        if told is None or told == "":
            if self.default is not None:
                return self.default
            raise ValueError(f"{self.label}: missing. Give one of {self._listed()}.")
        if told not in dict(self.options):
            raise ValueError(
                f"{self.label}: '{str(told)[:LONGEST_TEXT]}' is none of them. Give one of {self._listed()}."
            )
        return str(told)

    def _listed(self) -> str:
        return ", ".join(key for key, _ in self.options)


@dataclass(frozen=True, slots=True)
class Words:
    """A short text, such as a name, of the form `pattern`; "" where it may be left out and is."""

    name: str
    label: str
    optional: bool = False
    pattern: str = ""
    told_as: str = ""
    help: str = ""

    kind = "text"

    def read(self, told: Any) -> str:
        if told is None or (isinstance(told, str) and not told.strip()):
            if self.optional:
                return ""
            raise ValueError(f"{self.label}: missing. Give {self.told_as or 'a word'}.")
        if not isinstance(told, str) or len(told) > LONGEST_TEXT or not told.isprintable():
            raise ValueError(f"{self.label}: no short text. Give {self.told_as or 'at most 60 letters'}.")
        if self.pattern and not re.fullmatch(self.pattern, told.strip(), re.ASCII):
            raise ValueError(f"{self.label}: '{told.strip()}' is none. Give {self.told_as}.")
        return told.strip()


@dataclass(frozen=True, slots=True)
class Numbers:
    """Several numbers of one kind, as a list or as text with spaces or commas between."""

    name: str
    each: Number
    least: int = 1
    optional: bool = False
    help: str = ""

    kind = "numbers"

    @property
    def label(self) -> str:
        return self.each.label

    def read(self, told: Any) -> tuple[float, ...]:
        parts = re.split(r"[\s,;]+", told.strip()) if isinstance(told, str) else told
        if parts is None or parts == [""] or parts == []:
            if self.optional:
                return ()
            parts = []
        if not isinstance(parts, list | tuple) or len(parts) > MOST_NUMBERS:
            raise ValueError(f"{self.label}: give a list of at most {MOST_NUMBERS} numbers.")
        if len(parts) < self.least:
            raise ValueError(f"{self.label}: missing. Give {self.least} or more numbers, each {self.each.span()}.")
        return tuple(_plain(self.each.read(part)) for part in parts)


@dataclass(frozen=True, slots=True)
class Rows:
    """A list of lines, each with the same entries; lines with nothing in them are left out."""

    name: str
    label: str
    columns: tuple[Number | Choice | Words, ...]
    least: int = 0
    shown: int = 4
    help: str = ""

    kind = "rows"

    def read(self, told: Any) -> tuple[dict[str, Any], ...]:
        lines = [] if told is None else told
        if not isinstance(lines, list | tuple) or not all(isinstance(line, Mapping) for line in lines):
            raise ValueError(f"{self.label}: give a list of lines, each with {self._listed()}.")
        filled = [(n, line) for n, line in enumerate(lines) if any(v not in (None, "") for v in line.values())]
        if not self.least <= len(filled) <= MOST_ROWS:
            raise ValueError(f"{self.label}: give {self.least or 1} to {MOST_ROWS} lines, each with {self._listed()}.")
        wrong: dict[str, str] = {}
        found = []
        for n, line in filled:
            try:
                found.append(read_all(self.columns, line))
            except Absurd as error:
                wrong |= {f"{self.name}.{n}.{path}": sentence for path, sentence in error.sentences.items()}
        if wrong:
            raise Absurd(wrong)
        return tuple(found)

    def _listed(self) -> str:
        return ", ".join(column.name for column in self.columns)


Entry = Number | Choice | Words | Numbers | Rows


def read_all(entries: Sequence[Entry], told: Mapping[str, Any]) -> dict[str, Any]:
    """The value of every entry by its name.

    Raises:
        Absurd: with a sentence for every entry that is wrong, missing or not known.
    """
    names = {entry.name for entry in entries}
    wrong = {
        str(name)[
            :LONGEST_TEXT
        ]: f"'{str(name)[:LONGEST_TEXT]}' is not asked for here. Known are {_and(sorted(names))}."
        for name in told
        if name not in names
    }
    found: dict[str, Any] = {}
    for entry in entries:
        try:
            found[entry.name] = entry.read(told.get(entry.name))
        except Absurd as error:
            wrong |= error.sentences
        except ValueError as error:
            wrong[entry.name] = str(error)
    if wrong:
        raise Absurd(wrong)
    return found


def figure(value: float, digits: int = 6) -> str:
    """A number without needless noughts, thousands apart: "2,000", "0.8", "12.375"."""
    if value == 0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:,.{min(places, 12)}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) or "0"


def _plain(value: float | Measure | None) -> float:
    assert isinstance(value, float | int)
    return float(value)


def _and(names: Sequence[str]) -> str:
    return ", ".join(names)
