"""Every published figure that the program gives, row by row, and how many there are (`pytest -s` prints the count)."""

from __future__ import annotations

from collections import Counter
from types import ModuleType

import pytest

from tests.outside.published import Row, air, felt_and_fire, rules, services, sun_and_soil

ROOMS: tuple[ModuleType, ...] = (air, felt_and_fire, sun_and_soil, services, rules)
ROWS: list[Row] = [row for room in ROOMS for row in room.ROWS]
PUBLISHED = [row for row in ROWS if row.source is not None]
REGRESSION = [row for row in ROWS if row.source is None]
LEAST = 180
"""Fewer would mean that rows were lost."""


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.what)
def test_a_published_figure_is_given(row: Row) -> None:
    row.check()


@pytest.mark.parametrize("row", REGRESSION, ids=lambda row: row.what)
def test_a_figure_of_our_own_formula_has_not_moved(row: Row) -> None:
    """No outside check: these are not counted."""
    row.check()


def test_rows_are_counted_by_distinct_source_rows() -> None:
    """A figure counts once a source; every source says who published what and when."""
    distinct = Counter((row.source, row.what) for row in PUBLISHED)
    assert [row for row, count in distinct.items() if count > 1] == []
    for row in PUBLISHED:
        assert row.source is not None
        assert row.source.publisher.strip(), row.what
        assert row.source.title.strip(), row.what
        assert row.source.year.strip(), row.what
    copies = sum(1 for row in PUBLISHED if row.source is not None and row.source.copy)
    publishers = {row.source.publisher for row in PUBLISHED if row.source is not None}
    print(
        f"published rows checked: {len(distinct)}, {copies} of them by a named public copy,"
        f" of {len({row.source for row in PUBLISHED})} publications and {len(publishers)} publishers;"
        f" regression rows beside them, not counted: {len(REGRESSION)}"
    )
    assert len(distinct) >= LEAST


def test_a_row_that_is_wrong_is_seen() -> None:
    """The check itself can fail, by a figure and by a word."""
    for wrong in (Row("a figure", lambda: 5.74, 5.72, 0.01), Row("a word", lambda: "high", "moderate")):
        with pytest.raises(AssertionError):
            wrong.check()
