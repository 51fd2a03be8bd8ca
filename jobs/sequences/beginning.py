"""Which season of a sequence can still be met on a day. Pure: day in, anchor year out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from jobs.sequences.spec import SequenceSpec

YEARS = 3
"""So many anchor years are looked at, the calendar year of the day first."""


@dataclass(frozen=True, slots=True)
class Beginning:
    """A season to begin: its anchor year, how many of the `steps` outside branches are over by the day, and, where an
    earlier season was passed over because most of it is over, that season's year and how many of its steps are."""

    year: int
    over: int
    steps: int
    passed_year: int | None = None
    passed_over: int = 0


def season_to_begin(spec: SequenceSpec, today: date) -> Beginning:
    """The first season, from the calendar year of `today` on, of which at least half of the steps can still be met.

    A step is over after its last day. Steps of branches do not count: which of them are called for is not known."""
    passed: tuple[int | None, int] = (None, 0)
    for year in range(today.year, today.year + YEARS):
        over, steps = _over(spec, year, today)
        if 2 * over <= steps:
            break
        passed = (year, over)
    return Beginning(year, over, steps, *passed)


def _over(spec: SequenceSpec, year: int, today: date) -> tuple[int, int]:
    """(how many steps outside branches are over on the day, how many there are)."""
    last_days = [step.last.in_year(year) for step in spec.steps if step.branch is None]
    return sum(last < today for last in last_days), len(last_days)
