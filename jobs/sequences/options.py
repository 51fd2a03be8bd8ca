"""Which replant options what was sprayed leaves open: the option's own list against the actives on the plot."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from jobs.sequences.spec import Closing

OTHER = "other"
"""The row of a list that stands for every active it does not name: a crop not listed takes the label's longest wait."""


@dataclass(frozen=True, slots=True)
class Closed:
    """One active that closes an option: until a day, or for as long as the label in hand says (None)."""

    active: str
    sprayed_on: date
    until: date | None
    sentence: str
    source: str
    worth: str


def closed_by(
    closings: Iterable[Closing],
    sprayed: Iterable[tuple[str, date]],
    on: date,
    first_rain: Callable[[date, float], date | None] = lambda day, inches: None,
) -> tuple[Closed, ...]:
    """What closes an option on the day `on`, given the actives sprayed on the plot with their days; empty if open.

    The first day on which the wait is over is open. An active without a figure closes: missing data is never a yes.
    Names are compared without regard to capitals. `first_rain` tells the first day after a spray on which so much
    rain was observed, None as long as there is none. In the order of days, then names.
    """
    rows = {row.active.lower(): row for row in closings}
    found = []
    for active, day in sorted(sprayed, key=lambda one: (one[1], one[0])):
        row = rows.get(active.lower()) or rows.get(OTHER)
        if row is None:
            sentence = f"{active} was sprayed and no wait for it is known. Read its label."
            found.append(Closed(active, day, None, sentence, "", ""))
            continue
        began = day if row.after_rain_in is None else first_rain(day, row.after_rain_in)
        until = began + timedelta(days=row.days) if began is not None and row.days is not None else None
        if until is not None and until <= on:
            continue
        ends = f"closed until {until:%d %b %Y}" if until is not None else "closed this season"
        if began is None:
            ends = f"closed until {row.days} days after {row.after_rain_in:g} in of rain, not seen yet"
        if row.active == OTHER:
            ends = "closed until its label has been read"
        sentence = " ".join(part for part in (f"{active} was sprayed on {day:%d %b %Y}: {ends}.", row.note) if part)
        found.append(Closed(active, day, until, sentence, row.source, row.worth))
    return tuple(found)
