"""When a job's days are: its own dates, less every closure of its property and plot, in whole minutes (D3)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from jobs.facts import Closure
from jobs.graph.data import FAR, NEG
from jobs.minutes import day_end, day_start

CONTRACT_CLOSES = ("burn", "mow", "spray", "till")
"""What a contract's closed season stops where the contract names nothing (a default that the user overwrites)."""


@dataclass(frozen=True, slots=True)
class QuietRow:
    """A row of quiet days without hours."""

    id: int
    kind: str
    property: int
    plot: int | None
    first_day: date
    last_day: date
    operation: str
    reason: str


@dataclass(frozen=True, slots=True)
class ContractRow:
    """A contract with its closed season as month and day, both inclusive."""

    id: int
    property: int
    plot: int | None
    practice: str
    first_day: date
    last_day: date
    closed_from: str
    closed_to: str
    operations: tuple[str, ...]
    source: str


def closures(
    *,
    operation: str,
    plot: int,
    zone: str,
    first: date,
    last: date,
    quiet: Iterable[QuietRow],
    contracts: Iterable[ContractRow],
    tenure_ends: date | None,
) -> tuple[Closure, ...]:
    """Every closure that meets [first, last] of a job of `operation` on `plot`, in the order of its start.

    `quiet` and `contracts` are those of the job's property."""
    found = []
    for row in quiet:
        fits = row.plot in (None, plot) and row.operation in ("", operation)
        if fits and row.first_day <= last and row.last_day >= first:
            kind = "ban" if row.kind == "ban" else "quiet"
            found.append(Closure(kind, row.id, day_start(zone, row.first_day), day_end(zone, row.last_day), row.reason))
    for contract in contracts:
        closes = contract.closed_from and operation in (contract.operations or CONTRACT_CLOSES)
        if closes and contract.plot in (None, plot):
            found += _closed_seasons(contract, zone, first, last)
    if tenure_ends is not None and tenure_ends < last:
        found.append(Closure("tenure", 0, day_end(zone, tenure_ends), FAR))
    return tuple(sorted(found, key=lambda closure: (closure.first, closure.last, closure.kind, closure.id)))


def _closed_seasons(row: ContractRow, zone: str, first: date, last: date) -> list[Closure]:
    found = []
    for year in range(first.year - 1, last.year + 1):
        start = _day(year, row.closed_from)
        end = _day(year if row.closed_to >= row.closed_from else year + 1, row.closed_to)
        start, end = max(start, row.first_day), min(end, row.last_day)
        if start <= end and start <= last and end >= first:
            found.append(
                Closure("contract", row.id, day_start(zone, start), day_end(zone, end), row.practice, row.source)
            )
    return found


def _day(year: int, month_day: str) -> date:
    """The day of a year; 29 February of a common year is 28 February."""
    month, day = int(month_day[:2]), int(month_day[3:])
    try:
        return date(year, month, day)
    except ValueError:
        return date(year, month, 28)


def spans(first: int | None, last: int | None, closed: Iterable[Closure]) -> tuple[tuple[int, int], ...]:
    """[first, last) less the closures: sorted, disjoint; empty where nothing is left."""
    low, high = NEG if first is None else first, FAR if last is None else last
    found = []
    for closure in sorted(closed, key=lambda closure: closure.first):
        if closure.first > low:
            found.append((low, min(closure.first, high)))
        low = max(low, closure.last)
        if low >= high:
            break
    if low < high:
        found.append((low, high))
    return tuple(span for span in found if span[0] < span[1])
