"""Prerequisites as arcs of the graph, with their curves and what stands beside them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from jobs.folding import Folded
from jobs.graph.data import Arc, Curve, DegreeDays, Fixed, Lag, Rain, Relation
from jobs.minutes import day_end, day_start, local_day
from jobs.models import LagUnit, Season
from jobs.reference import reference
from jobs.selectors.facts.rows import JobRow, LinkRow, few, link_rows
from jobs.selectors.facts.told import NOT_YET, Seen, confirmed, last_seen, observations
from jobs.selectors.weather import RAIN, curves

LOOK_AGAIN_DAYS = 2
"""Days after which a look in vain is asked for again (common practice)."""

NO_CURVE = 0
"""The number of no curve: a lag on it is not known going forward and bounds nothing going backward."""

NO_WAIT = Fixed(0)

_RELATIONS = {relation.value: relation for relation in Relation}

Place = tuple[int, str]
"""A property and a way of counting."""


@dataclass(slots=True)
class Links:
    """The arcs of a walk and what stands beside them by arc id, as in `Facts`, with the curves by number."""

    arcs: list[Arc] = field(default_factory=list)
    curves: dict[int, Curve] = field(default_factory=dict)
    sources: dict[int, str] = field(default_factory=dict)
    again: dict[int, int] = field(default_factory=dict)
    upper: dict[int, int] = field(default_factory=dict)


def read_links(
    holding_id: int,
    components: Collection[int] | None,
    rows: Mapping[int, JobRow],
    folded: Mapping[int, Folded],
    today: date,
) -> Links:
    """The prerequisites between the jobs of `rows`."""
    links = [link for link in link_rows(holding_id, components) if link.tail in rows and link.head in rows]
    counted = [(link, kinds) for link in links if (kinds := _weather_kinds(link))]
    wanted = {(rows[link.head].property, kind) for link, kinds in counted for kind in kinds}
    numbers = {place: number for number, place in enumerate(sorted(wanted), start=1)}
    zones = {row.property: row.zone for row in rows.values()} if wanted else {}
    first = min((_first_day(rows[link.tail], folded[link.tail]) for link, _ in counted), default=today)
    found = curves(wanted, zones, min(first, today) - timedelta(days=1), today) if wanted else {}
    seen = observations(holding_id, rows, links) if any(link.confirm for link in links) else {}
    told = Links(curves={numbers[place]: curve for place, curve in found.items()})
    for link in links:
        tail, head = rows[link.tail], rows[link.head]
        told.arcs.append(_arc(link, tail, head, folded[link.tail], found, numbers, seen))
        told.sources[link.id] = link.source
        in_vain = last_seen(seen, NOT_YET + link.confirm, head, tail) if link.confirm else None
        if in_vain is not None:
            told.again[link.id] = look_again(head.zone, in_vain)
    told.upper = _upper_figures(holding_id, rows, [link for link in links if link.unit == LagUnit.DEGREE_DAYS])
    return told


def _arc(
    link: LinkRow,
    tail: JobRow,
    head: JobRow,
    done: Folded,
    found: Mapping[Place, Curve],
    numbers: Mapping[Place, int],
    seen: Seen,
) -> Arc:
    begun = done.started is not None or done.finished is not None
    if link.degree_days and not begun and _too_short(found.get((head.property, link.degree_days)), head):
        numbers = {**numbers, (head.property, link.degree_days): NO_CURVE}
    minimum: Lag = NO_WAIT
    maximum: Lag | None = None
    if link.amount or link.unit not in (LagUnit.DAYS, LagUnit.HOURS):
        minimum = _lag(link, link.amount, link.unit, head.property, numbers)
    if link.high is not None:
        maximum = _lag(link, link.high, link.high_unit, head.property, numbers)
    return Arc(
        link.id,
        link.tail,
        link.head,
        _RELATIONS[link.relation],
        minimum,
        maximum,
        bool(link.confirm),
        confirmed(seen, link.confirm, head, tail, done) if link.confirm else None,
        "common practice" in (link.worth, link.high_worth),
    )


def _lag(link: LinkRow, amount: float, unit: str, place: int, numbers: Mapping[Place, int]) -> Lag:
    if unit == LagUnit.DEGREE_DAYS:
        return DegreeDays(numbers[place, link.degree_days], round(amount * 100))
    if unit == LagUnit.RAIN_IN:
        return Rain(numbers[place, RAIN], round(amount * 100), round(link.then_days * 1440))
    return Fixed(round(amount * (60 if unit == LagUnit.HOURS else 1440)))


def _weather_kinds(link: LinkRow) -> list[str]:
    kinds = []
    if LagUnit.DEGREE_DAYS in (link.unit, link.high_unit):
        kinds.append(link.degree_days)
    if link.unit == LagUnit.RAIN_IN:
        kinds.append(RAIN)
    return kinds


def _too_short(curve: Curve | None, head: JobRow) -> bool:
    """The curve ends before the successor's days do: for a predecessor still to be done it proves nothing.

    A few days of temperatures without normals must call nothing too late that is only not known."""
    last = head.last_day or head.season_last
    return curve is not None and (last is None or curve.day_starts[-1] < day_end(head.zone, last))


def look_again(zone: str, at: int) -> int:
    """The instant from which to look once more after a look in vain."""
    return day_start(zone, local_day(zone, at) + timedelta(days=LOOK_AGAIN_DAYS))


def _upper_figures(holding_id: int, rows: Mapping[int, JobRow], links: Sequence[LinkRow]) -> dict[int, int]:
    """By link that waits for the lower of the published degree days in which a crop comes up: the upper, hundredths."""
    seasons = {season for link in links if (season := rows[link.head].season) is not None}
    if not seasons:
        return {}
    ranges = {}
    crops = Season.objects.filter(holding_id=holding_id, **few(pk__in=seasons))
    for season, key in crops.values_list("pk", "sequence__document__crop"):
        crop = reference().crops.get(key or "")
        for figure in crop.values if crop is not None else ():
            if figure.name == "emergence" and figure.high > figure.low:
                ranges[season] = (figure.low, figure.high)
    found = {}
    for link in links:
        low, high = ranges.get(rows[link.head].season or 0, (None, 0.0))
        if link.amount == low:
            found[link.id] = round(high * 100)
    return found


def _first_day(row: JobRow, facts: Folded) -> date:
    anchor = facts.started or facts.finished
    if anchor is not None:
        return local_day(row.zone, anchor.early)
    return row.first_day or row.season_first or date.max
