"""Windows of many jobs at many places at once, as plain data that is stored beside a reckoning. Pure.

Each limit is worked out once over all places and hours; jobs with the same limits share what holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from jobs.hours import Stretch, intersect
from jobs.windows.choosing import Chosen
from jobs.windows.coding import limit_coded
from jobs.windows.finding import Edge, Held, Window, is_low, windows
from jobs.windows.hours import HOUR, RAIN_BAND, RAIN_BEGUN, RAIN_ENDED, Floats, Hours
from jobs.windows.limits import Limit, WhereKnown
from plots.forecasts.values import VALUES

AIR = frozenset(VALUES)
"""What a forecast tells. A gauge's rain, a river's stage or a reckoned soil without any of it is no forecast."""
MOST = 24
"""So many windows of a job are kept; a forecast of a week seldom has more."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One job: its place (row of the hours), its limits, the named stretches it has to lie in, how long it takes.

    Where the weather does not decide over its hours (`decides` False), they need no forecast; `joined` are the limits
    that are not those of its operation and step."""

    job: int
    place: int
    chosen: Chosen
    inside: Mapping[str, Sequence[Stretch]]
    minutes: int
    can_split: bool = False
    least_piece: int = 0
    decides: bool = True
    joined: tuple[Limit, ...] = ()


@dataclass(slots=True)
class Places:
    """Hours of places with what limits say of them, each worked out when it is first asked for; `since` is the minute
    from which hours are to come."""

    hours: Hours
    since: int
    _margins: dict[Limit, Floats] = field(default_factory=dict)
    _held: dict[tuple[Limit, ...], Held] = field(default_factory=dict)
    _known: list[frozenset[str]] | None = None

    def margin(self, limit: Limit) -> Floats:
        found = self._margins.get(limit)
        if found is None:
            found = self._margins[limit] = limit.rule.margin(self.hours)
        return found

    def held(self, limits: tuple[Limit, ...]) -> Held:
        found = self._held.get(limits)
        if found is None:
            margins = tuple(self.margin(limit) for limit in limits)
            holds = np.ones((self.hours.places, self.hours.count), dtype=bool)
            for distances in margins:
                holds &= distances >= 0
            found = self._held[limits] = Held(limits, self.hours, margins, holds)
        return found

    def known(self, place: int) -> frozenset[str]:
        """The quantities of which at least one hour to come is known at a place."""
        if self._known is None:
            begin = max((self.since - self.hours.first) // HOUR, 0)
            sums = (RAIN_BEGUN, RAIN_ENDED, RAIN_BAND)
            columns = {name: column for name, column in self.hours.values.items() if name not in sums}
            some = {name: np.asarray(~np.isnan(column[:, begin:]).all(axis=1)) for name, column in columns.items()}
            every = range(self.hours.places)
            self._known = [frozenset(name for name in some if some[name][at]) for at in every]
        return self._known[place]


def windows_of(asked: Iterable[Asked], hours: Hours, since: int) -> dict[int, dict[str, Any]]:
    """By job its windows from the minute `since` on; see `coded` for the form. Hours of which a forecast
    tells nothing are no hours: the job's windows are then not known, and so are none."""
    places, found = Places(hours, since), {}
    for one in asked:
        known = places.known(one.place)
        binding, left_out = one.chosen.split(known)
        told: dict[str, Any] = {"minutes": one.minutes}
        if one.decides and not known & AIR:
            told["why"] = {"kind": "unknown"}
        else:
            what = places.held(binding)
            listed = windows(
                what,
                one.place,
                one.inside,
                minutes=one.minutes,
                not_before=since,
                can_split=one.can_split,
                least_piece=one.least_piece,
            )
            told["found"] = [coded(window if one.decides else without_tightest(window)) for window in listed[:MOST]]
            if not listed:
                told["why"] = _why(what, one, since)
            if left_out:
                told["left_out"] = [limit.key for limit in left_out]
            if partly := _partly(what, one.place, listed):
                told["partly"] = partly
        if one.joined:
            told["joined"] = [limit_coded(limit) for limit in one.joined]
        if one.chosen.set_aside:
            told["set_aside"] = list(one.chosen.set_aside)
        found[one.job] = told
    return found


def without_tightest(window: Window) -> Window:
    """How far heat and thunder stay off is said of work that hangs on the weather alone."""
    return replace(window, tightest=None, least=None)


def _partly(what: Held, place: int, listed: Iterable[Window]) -> list[str]:
    """Keys of limits that bind only where their quantity is known, and of which some hour of the windows is not."""
    first = what.hours.first
    spans = [((one.starts - first) // HOUR, -((first - one.ends) // HOUR)) for one in listed]
    return [
        limit.key
        for limit, distances in zip(what.limits, what.margins, strict=True)
        if isinstance(limit.rule, WhereKnown) and any(np.isinf(distances[place, low:high]).any() for low, high in spans)
    ]


def coded(window: Window) -> dict[str, Any]:
    """A window as plain data, nothing empty."""
    told: dict[str, Any] = {
        "from": window.starts,
        "to": window.ends,
        "opens": _edge(window.opened_by),
        "closes": _edge(window.closed_by),
    }
    if window.tightest is not None and window.least is not None:
        told |= {"tightest": window.tightest, "least": round(window.least, 2)}
    return told


def _edge(edge: Edge) -> dict[str, Any]:
    told: dict[str, Any] = {"key": edge.key}
    if edge.margin is not None:
        told["margin"] = round(edge.margin, 2)
    if edge.low:
        told["low"] = True
    return told


def decoded(told: Mapping[str, Any]) -> Edge:
    """The edge that `coded` wrote."""
    return Edge(told["key"], told.get("margin"), told.get("low", False))


def _why(what: Held, one: Asked, since: int) -> dict[str, Any]:
    """Why there is no window: no hours are left to it, one limit holds longest, or no run is long enough."""
    last = what.hours.first + what.hours.count * HOUR
    left: list[Stretch] = [(since, last)]
    for name in one.inside:
        left = intersect(left, sorted(one.inside[name]))
        if not left:
            return {"kind": "closed", "by": name}
    first = what.hours.first
    mask = np.zeros(what.hours.count, dtype=bool)
    for start, end in left:
        mask[max((start - first) // HOUR, 0) : -((first - end) // HOUR)] = True
    runs = windows(what, one.place, one.inside, minutes=1, not_before=since)
    if runs:
        needed = (one.least_piece or one.minutes) if one.can_split else one.minutes
        return {"kind": "short", "needed": needed, "longest": max(run.minutes for run in runs)}
    broken = [int((~(distances[one.place] >= 0) & mask).sum()) for distances in what.margins]
    at = int(np.argmax(broken))
    here = what.margins[at][one.place]
    unknown = int((np.isnan(here) & mask).sum())
    told: dict[str, Any] = {"kind": "limit", "key": what.limits[at].key, "of": int(mask.sum())}
    if unknown * 2 > broken[at]:
        told |= {"hours": unknown, "unknown": True}
    else:
        told["hours"] = broken[at] - unknown
        low = [is_low(what, one.place, int(hour), told["key"]) for hour in np.nonzero((here < 0) & mask)[0]]
        if sum(low) * 2 > len(low):
            told["low"] = True
    return told


def next_of(told: Mapping[str, Any] | None, minute: int) -> Mapping[str, Any] | None:
    """The first window that has not ended at a minute."""
    listed = (told or {}).get("found", ())
    return next((window for window in listed if window["to"] > minute), None)
