"""Keep a poor stand or plant again: the published tables, each under its own source since they disagree.

Stands are plants an acre, yields percent of the highest yield, gains points of it; ranges stay ranges. A day or stand
between two published ones is read on the straight line between them and marked; outside a table there is no answer.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

THOUSAND = 1_000
Span = tuple[float, float]
Weights = tuple[tuple[int, float], ...]
MonthDay = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Percent:
    """A yield in percent, `low` to `high`; `between`: read between published cells, so computed and not printed."""

    low: float
    high: float
    between: bool = False

    def times(self, least: float, most: float) -> Percent:
        return Percent(self.low * least, self.high * most, self.between)


@dataclass(frozen=True, slots=True)
class StandTable:
    """Yield by planting day and stand; without `stands` by planting day alone, for a full stand.

    `days` and `stands` are the published stretches in order; `cells[stand][day]`, None where no source gives one."""

    key: str
    crop: str
    name: str
    source: str
    days: tuple[tuple[MonthDay, MonthDay], ...]
    stands: tuple[Span, ...]
    cells: tuple[tuple[Span | None, ...], ...]
    note: str = ""
    no_response_below_bu: float | None = None
    no_response_above_stand: float | None = None

    def yield_pct(self, day: date, stand: float | None = None, *, expected_bu: float | None = None) -> Percent | None:
        """Of a stand planted on `day`; None outside the table, next to a missing cell, or for a stand that the table
        does not tell apart. `stand` None asks for the fullest stand of the table.

        Below `no_response_below_bu` a stand above `no_response_above_stand` counts as that."""
        spans = [(float(date(day.year, *a).toordinal()), float(date(day.year, *b).toordinal())) for a, b in self.days]
        across = _weights(spans, day.toordinal())
        down: Weights | None = ((len(self.cells) - 1, 1.0),) if self.stands else ((0, 1.0),)
        limit = self.no_response_above_stand
        poor = expected_bu is not None and self.no_response_below_bu is not None
        poor = poor and (expected_bu or 0.0) < (self.no_response_below_bu or 0.0)
        if stand is None and self.stands:
            stand = self._best_stand(across)
        if stand is not None:
            if not self.stands:
                return None
            thousands = stand / THOUSAND
            if poor and limit is not None:
                thousands = min(thousands, limit)
            down = _weights(self.stands, thousands)
        if across is None or down is None:
            return None
        low = high = 0.0
        for row, share in down:
            for column, part in across:
                cell = self.cells[row][column]
                if cell is None:
                    return None
                low, high = low + share * part * cell[0], high + share * part * cell[1]
        return Percent(low, high, len(down) > 1 or len(across) > 1)

    def _best_stand(self, across: Weights | None) -> float:
        """The least stand that yields most on these days."""
        best, most = self.stands[-1][0], -1.0
        for row, (low, _) in zip(self.cells, self.stands, strict=True):
            cells = [(row[column], part) for column, part in across or ()]
            if any(cell is None for cell, _ in cells):
                continue
            value = sum(cell[1] * part for cell, part in cells if cell is not None)
            if value > most + 1e-9:
                best, most = low, value
        return best * THOUSAND


def _weights(spans: Sequence[Span], at: float) -> Weights | None:
    """Where a value lies among ordered stretches: in one, or between two with a share of each."""
    for place, (low, high) in enumerate(spans):
        if low <= at <= high:
            return ((place, 1.0),)
        if at < low:
            if place == 0:
                return None
            before = spans[place - 1][1]
            share = (at - before) / (low - before)
            return ((place - 1, 1.0 - share), (place, share))
    return None


@dataclass(frozen=True, slots=True)
class Gap:
    """What gaps of a size cost more than their missing plants, in percent, low to high."""

    source: str
    size: str
    says: str
    lost_pct: Span


@dataclass(frozen=True, slots=True)
class Rule:
    """A published sentence that holds between two days for stands of at most so many thousand."""

    crop: str
    source: str
    first: MonthDay
    last: MonthDay
    stand_at_most: float
    says: str

    def holds(self, crop: str, day: date, stand: float) -> bool:
        inside = self.first <= (day.month, day.day) <= self.last
        return crop == self.crop and inside and stand <= self.stand_at_most * THOUSAND


@dataclass(frozen=True, slots=True)
class BeanStand:
    """A soybean stand (thousands) keeps so many percent of what a full one (thousands) yields."""

    source: str
    stand: float
    full: float
    kept_pct: float


@dataclass(frozen=True, slots=True)
class BeanDelay:
    """Soybeans lose so many bushels an acre a day when they are planted after a day."""

    source: str
    from_day: MonthDay
    bushels_a_day: float
    says: str

    def lost_bu(self, planted: date) -> float:
        return self.bushels_a_day * max(0, (planted - date(planted.year, *self.from_day)).days)


@dataclass(frozen=True, slots=True)
class BeanLast:
    """The last day on which soybeans may come up, and the frost-free days that they need from then on."""

    source: str
    emerged_by: MonthDay
    frost_free_days: int
    says: str


@dataclass(frozen=True, slots=True)
class ReplantData:
    """All that is published here on keeping or replanting."""

    tables: tuple[StandTable, ...]
    gaps: tuple[Gap, ...]
    rules: tuple[Rule, ...]
    bean_stands: tuple[BeanStand, ...]
    bean_delays: tuple[BeanDelay, ...]
    bean_last: BeanLast


@dataclass(frozen=True, slots=True)
class Advice:
    """What one table says. `kept` of the stand as it is, `replant` of a full stand planted on the replant day, `gain`
    in points, low to high (negative: the stand that is there yields more); None where the table does not tell."""

    table: StandTable
    kept: Percent | None
    replant: Percent | None
    gain: Span | None
    gap: Gap | None = None


def advise(
    data: ReplantData,
    crop: str,
    *,
    planted: date,
    stand: float,
    replant_on: date,
    gaps: str = "",
    expected_bu: float | None = None,
) -> list[Advice]:
    """One line a table and, where gaps ("small" or "large") are given, one a table and a published loss from them."""
    found = []
    losses: list[Gap | None] = [gap for gap in data.gaps if gaps and gap.size == gaps]
    for table in data.tables:
        if table.crop != crop:
            continue
        kept = table.yield_pct(planted, stand, expected_bu=expected_bu)
        again = table.yield_pct(replant_on, expected_bu=expected_bu)
        for gap in losses if losses and kept is not None else [None]:
            least, most = (1.0, 1.0) if gap is None else (1 - gap.lost_pct[1] / 100, 1 - gap.lost_pct[0] / 100)
            left = None if kept is None else kept.times(least, most)
            gain = None if left is None or again is None else (again.low - left.high, again.high - left.low)
            found.append(Advice(table, left, again, gain, gap))
    return found


def beans_kept(data: ReplantData, stand: float) -> list[tuple[BeanStand, bool]]:
    """The published figures, each with whether the stand is at least that one; below it nothing is published."""
    return [(row, stand >= row.stand * THOUSAND) for row in data.bean_stands]


def read_replant(text: str, *, sources: Collection[str]) -> ReplantData:
    """The data of a TOML text.

    Raises:
        ValueError: a source is unknown, or a table's cells do not fit its days and stands."""
    rows = tomllib.loads(text)
    listed = [*rows["table"].values(), *rows["gaps"], *rows["rule"], *rows["bean_stand"], *rows["bean_delay"]]
    unknown = sorted({row["source"] for row in [*listed, rows["bean_last"]]} - set(sources))
    if unknown:
        raise ValueError(f"The replant data name sources that are not known: {', '.join(unknown)}.")
    last = rows["bean_last"]
    return ReplantData(
        tuple(_table(key, row) for key, row in rows["table"].items()),
        tuple(Gap(row["source"], row["size"], row["says"], _span(row["lost_pct"])) for row in rows["gaps"]),
        tuple(
            Rule(row["crop"], row["source"], _day(row["first"]), _day(row["last"]), row["stand_at_most"], row["says"])
            for row in rows["rule"]
        ),
        tuple(BeanStand(**row) for row in rows["bean_stand"]),
        tuple(
            BeanDelay(row["source"], _day(row["from"]), row["bushels_a_day"], row["says"]) for row in rows["bean_delay"]
        ),
        BeanLast(last["source"], _day(last["emerged_by"]), last["frost_free_days"], last["says"]),
    )


def _table(key: str, row: Mapping[str, Any]) -> StandTable:
    days = tuple(
        (_day(told), _day(told)) if isinstance(told, str) else (_day(told[0]), _day(told[1])) for told in row["days"]
    )
    stands = tuple(_span(told) for told in row.get("stands", ()))
    cells = tuple(tuple(None if cell == "" else _span(cell) for cell in line) for line in row["cells"])
    if any(len(line) != len(days) for line in cells) or len(cells) != max(1, len(stands)):
        raise ValueError(f"Replant table {key}: the cells do not fit its days and stands.")
    flat = [end for span in stands for end in span]
    if flat != sorted(flat) or [end for span in days for end in span] != sorted(end for span in days for end in span):
        raise ValueError(f"Replant table {key}: its days or stands are out of order.")
    return StandTable(
        key,
        row["crop"],
        row["name"],
        row["source"],
        days,
        stands,
        cells,
        row.get("note", ""),
        row.get("no_response_below_bu"),
        row.get("no_response_above_stand"),
    )


def _span(told: Any) -> Span:
    low, high = told if isinstance(told, list) else (told, told)
    return float(low), float(high)


def _day(text: str) -> MonthDay:
    month, day = text.split("-")
    return int(month), int(day)
