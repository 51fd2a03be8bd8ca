"""Published figures that a function of the program has to give: one row a printed figure, or a printed row of figures.

A row names publisher, title and year. Where the publication itself was not read, `copy` names the public copy that
credits it. A row without a source is a regression row: computed from the formula, it proves nothing and is not counted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Source:
    publisher: str
    title: str
    year: str
    copy: str = ""


@dataclass(frozen=True)
class Row:
    """`got()` gives a figure, or as many as `expected` has; `within` is the greatest difference, 0: equal."""

    what: str
    got: Callable[[], Any]
    expected: Any
    within: float = 0.0
    source: Source | None = None

    def check(self) -> None:
        got = self.got()
        if self.within == 0.0:
            assert got == self.expected, (self.what, got)
            return
        difference = np.abs(np.asarray(got, dtype=float) - np.asarray(self.expected, dtype=float))
        assert difference.max() <= self.within, (self.what, got)


def rounded(values: Sequence[float] | np.ndarray) -> list[int]:
    return [round(float(value)) for value in values]
