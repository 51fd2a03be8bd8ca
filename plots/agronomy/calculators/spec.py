"""What a calculator is, and what it answers. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from plots.agronomy.entries import Absurd, Entry, figure, read_all

Given = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of an answer: its key, what it is, the value in its unit, and how it is said."""

    key: str
    label: str
    value: float
    unit: str
    text: str


@dataclass(frozen=True, slots=True)
class Worked:
    """What a rule worked out: the figures in their order, and sentences to heed beside them."""

    figures: tuple[Figure, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Source:
    """Where a rule or a value comes from, and what it is worth."""

    key: str
    title: str
    worth: str


@dataclass(frozen=True, slots=True)
class Caution:
    """The usual cautions of a hazard and who decides."""

    hazard: str
    lines: tuple[str, ...]
    decides: str


@dataclass(frozen=True, slots=True)
class Calculator:
    """One rule with its entries, where it comes from and what to heed. Nothing it answers is permission."""

    key: str
    name: str
    purpose: str
    entries: tuple[Entry, ...]
    rule: Callable[[Given], Worked]
    operations: frozenset[str]
    sources: tuple[Source, ...]
    cautions: tuple[Caution, ...]
    note: str = ""

    def answer(self, told: Mapping[str, Any]) -> Worked:
        """The figures for what was told.

        Raises:
            Absurd: with a sentence for every entry that is missing, unknown or not sensible.
        """
        return self.rule(read_all(self.entries, told))


def fig(key: str, label: str, value: float, unit: str = "", digits: int = 3, text: str = "") -> Figure:
    """A figure said with so many significant digits, unless it is said in words of its own."""
    return Figure(key, label, value, unit, text or f"{_shown(value, digits)} {unit}".rstrip())


def count(key: str, label: str, value: float, unit: str = "") -> Figure:
    """A figure that is a whole number."""
    return Figure(key, label, value, unit, f"{value:,.0f} {unit}".rstrip())


def money(key: str, label: str, value: float) -> Figure:
    return Figure(key, label, value, "$", f"${value:,.2f}")


def refuse(entry: str, sentence: str) -> Absurd:
    """What a rule raises where two entries do not go together."""
    return Absurd({entry: sentence})


def duration(hours: float) -> str:
    """ "1 h 20 min", to the nearest minute."""
    whole, minutes = divmod(round(hours * 60), 60)
    return f"{whole} h {minutes:02d} min" if whole and minutes else f"{whole} h" if whole else f"{minutes} min"


def _shown(value: float, digits: int) -> str:
    """Significant digits, but never fewer than the whole part has."""
    whole = len(f"{abs(value):.0f}")
    return figure(value, max(digits, whole))
