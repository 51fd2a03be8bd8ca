"""Fence: wire and posts of a closed line, and the deer fence of two rows.

Two rows round a food plot: the outer row carries one wire at 18 in, the inner two at 10 and 24 in, 3 ft apart
(hunting magazine of Illinois, 2013, crediting a Maryland agricultural research farm). A post stands at each corner."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from plots.units import ACRE_SQ_FT

FEET_A_MILE = 5280


@dataclass(frozen=True, slots=True)
class Row:
    """One closed row: the length of its sides, and how many wires it carries."""

    sides_ft: tuple[float, ...]
    wires: int

    @property
    def length_ft(self) -> float:
        return math.fsum(self.sides_ft)

    @property
    def wire_ft(self) -> float:
        return self.length_ft * self.wires

    def posts(self, apart_ft: float) -> int:
        """Line and corner posts: each side by itself, as a post stands at each corner. Gate posts come on top."""
        return sum(intervals(side, apart_ft) for side in self.sides_ft)


def intervals(length_ft: float, apart_ft: float) -> int:
    """Equal gaps of at most `apart_ft`: posts of a closed side; an open run has one post more."""
    return max(1, math.ceil(length_ft / apart_ft - 1e-9))


def square_sides(acres: float) -> list[float]:
    """The four sides of a square of so many acres, ft."""
    return [math.sqrt(acres * ACRE_SQ_FT)] * 4


def outside(sides_ft: Sequence[float], offset_ft: float) -> list[float]:
    """Sides of a row so far outside another, each longer by what equal corners add: 2 x offset x tan(180 / sides)."""
    more = 2 * offset_ft * math.tan(math.pi / len(sides_ft))
    return [side + more for side in sides_ft]


def open_run_posts(length_ft: float, apart_ft: float) -> int:
    """Posts of a line with two ends."""
    return intervals(length_ft, apart_ft) + 1
