"""Next jobs as JSON, quickly: what follows from a job's row alone is rendered once and kept by the row itself.

Kept by content, it cannot grow old, nor be another holding's: a changed row, zone, year or choice of units is another
key. What names other rows, goes by the clock or is the asker's own is rendered at every request.
"""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache

import orjson

from core.api.rendering import dump
from core.models import Holding
from jobs.selectors.answers import along_of, lasting, names_for, passing
from jobs.selectors.next import NextPage, Row
from jobs.selectors.next import forget as forget_rows
from jobs.sentences import Names
from plots.units import area


def told(holding: Holding, page: NextPage, now: datetime, units: str) -> list[orjson.Fragment]:
    """The jobs of a page as JSON, in their order: the answers of `next_list`, with areas in the units people chose."""
    names = names_for(holding, [one.row for one in page.shown], now)
    found = []
    for one in page.shown:
        rest = passing(holding.zone, one.row, names, page.minute)
        rest |= page.own_part(one, rest["window"])
        found.append(orjson.Fragment(_begin(one.row, names.zone, names.year, units) + dump(rest)[1:]))
    return found


@lru_cache(maxsize=2_048)
def _begin(row: Row, zone: str, year: int, units: str) -> bytes:
    """The begin of a job's object, up to the comma before what is rendered at every request."""
    answer = lasting(
        zone, row, Names(zone=zone, year=year), *along_of(row["needs"], row["given"], row["reckoning__acres_left"])
    )
    answer |= {"area": area(answer["acres"], units), "area_left": area(answer["acres_left"], units)}
    return dump(answer)[:-1] + b","


def forget() -> None:
    """Keep nothing, as in a process that begins."""
    forget_rows()
    _begin.cache_clear()
