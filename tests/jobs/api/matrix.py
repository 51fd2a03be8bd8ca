"""The rows of this room in the matrix of routes, and the things they are about."""

from tests.core.matrix import Page, Row
from tests.core.world import Side

ROWS: dict[str, Row] = {}

PAGES: dict[str, Page] = {}


def grow(side: Side) -> None:
    """Add one thing of each kind of this room to a side, under the names that `ROWS` use."""
