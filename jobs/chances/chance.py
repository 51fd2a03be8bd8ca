"""The chance of one job: how many suitable days are usually left, and in which years it still got its window."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from jobs.chances.history import Bools

WORK_DAY_MIN = 600
"""So many minutes are worked on a day at most (common practice); longer work takes several days on end."""


@dataclass(frozen=True, slots=True)
class Chance:
    """`days` suitable days by year of history, `got` whether the job still got its window in that year."""

    years: tuple[int, ...]
    days: tuple[int, ...]
    got: tuple[bool, ...]
    needed: int

    @property
    def share(self) -> float:
        return sum(self.got) / len(self.got)

    @property
    def usual(self) -> int:
        """The median, the lower one of two: what at least half of the years had."""
        return sorted(self.days)[(len(self.days) - 1) // 2]

    @property
    def middle(self) -> tuple[int, int]:
        """What nine of ten years had at least, and what one in ten had at least."""
        listed, tenth = sorted(self.days), len(self.days) // 10
        return listed[tenth], listed[-1 - tenth]


def days_needed(minutes: int) -> int:
    """Days on end that work of so many minutes takes."""
    return max(1, -(-minutes // WORK_DAY_MIN))


def chance(years: tuple[int, ...], holds: Bools, minutes: int, *, may_split: bool = False) -> Chance:
    """Of the days that are left, columns of `holds`; work that may be split needs its days in any order.

    Raises:
        ValueError: there is no year."""
    if not years:
        raise ValueError("There is no year of history.")
    needed = days_needed(minutes)
    count = holds.sum(axis=1)
    got = count >= needed if may_split else runs_of(holds, needed).any(axis=1)
    return Chance(years, tuple(count.tolist()), tuple(np.asarray(got, bool).tolist()), needed)


def runs_of(holds: Bools, length: int) -> Bools:
    """By (year, day): whether so many days on end from this one on hold."""
    found = holds.copy()
    for step in range(1, length):
        found[:, :-step] &= holds[:, step:]
        found[:, -step:] = False
    return np.asarray(found)
