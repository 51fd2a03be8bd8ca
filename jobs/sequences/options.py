"""What was sprayed against what may follow: the list of a step or of a replant option, and the actives on the plot."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from jobs.sequences.spec import Closing

OTHER = "other"
"""The row of a list that stands for every active it does not name: a crop not listed takes the label's longest wait."""


@dataclass(frozen=True, slots=True)
class Closed:
    """One active that closes what may follow, sprayed at an instant, until another (None: no end is known).

    `firm` says that the list itself closes it for the season; else a manager may open it with a written reason, the
    label in hand, or rain still starts its clock."""

    active: str
    at: int
    until: int | None
    firm: bool
    source: str
    worth: str
    note: str


def closed_by(
    closings: Iterable[Closing],
    sprayed: Iterable[tuple[str, int]],
    first_rain: Callable[[int, float], int | None] = lambda at, inches: None,
) -> tuple[Closed, ...]:
    """What the sprayed actives close, each with its instant (minutes since 1970-01-01 UTC), past ends among them.

    `first_rain` tells the end of the first day after an instant with so many inches of observed rain, None as long as
    there is none. Names are compared without regard to capitals. In the order of instants, then names.
    """
    rows = {row.active.lower(): row for row in closings}
    found = []
    for active, at in sorted(sprayed, key=lambda one: (one[1], one[0])):
        row = rows.get(active.lower()) or rows.get(OTHER)
        if row is None or row.days == 0:
            continue
        began = at if row.after_rain_in is None else first_rain(at, row.after_rain_in)
        until = began + row.days * 1440 if began is not None and row.days is not None else None
        firm = row.days is None and row.active != OTHER and not row.written_reason
        found.append(Closed(active, at, until, firm, row.source, row.worth, row.note))
    return tuple(found)
