"""Degree days to date, when a crop comes up, how far it is, and what a late planting still needs to ripen.

Degree days are integer hundredths throughout, temperatures degrees Fahrenheit, days local civil days of one zone.
Counting starts the day after planting (Ohio State University Extension AGF-101). Nothing here reads a clock.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from plots.degree_days import FAR, Curve, DegreeDaySpec, HighLow, NormalDay, degree_days

NOT_COUNTED = -1
"""In the place of a day's degree days that nobody knows."""


@dataclass(frozen=True, slots=True)
class ToDate:
    """Degree days of a stretch of days in hundredths. `observed` and `normal` are sums over the same days, those from
    the first to yesterday that somebody observed; `normal` is None where there are none or a normal of one of them is
    missing; `missing` are the days that nobody observed, `counted_from` the first that counts; `forecast` is the sum
    from today to the last day of the forecast, `until` that day."""

    first_day: date
    last_day: date
    observed: int
    normal: int | None
    missing: tuple[date, ...]
    forecast: int
    until: date | None
    counted_from: date | None = None

    @property
    def ahead_of_normal(self) -> int | None:
        """How far the observed days are ahead of normal ones; None where a normal is missing."""
        return None if self.normal is None else self.observed - self.normal


def to_date(
    spec: DegreeDaySpec,
    first_day: date,
    today: date,
    observed: Mapping[date, HighLow],
    forecast: Mapping[date, HighLow],
    normals: Mapping[str, NormalDay],
) -> ToDate:
    """The sums from `first_day` on; today's own value is not complete and counts as forecast."""
    days = [first_day + timedelta(days=n) for n in range(max(0, (today - first_day).days))]
    known = [day for day in days if day in observed]
    told = [normal_of(day, spec, normals) for day in known]
    run: list[int] = []
    day = max(today, first_day)
    while day in forecast or (day == today and day in observed):
        run.append(degree_days(*(forecast[day] if day in forecast else observed[day]), spec))
        day += timedelta(days=1)
    return ToDate(
        first_day,
        today - timedelta(days=1),
        sum(degree_days(*observed[day], spec) for day in known),
        sum(value for value in told if value is not None) if told and None not in told else None,
        tuple(day for day in days if day not in observed),
        sum(run),
        day - timedelta(days=1) if run else None,
        known[0] if known else None,
    )


def normal_of(day: date, spec: DegreeDaySpec, normals: Mapping[str, NormalDay]) -> int | None:
    """The normal degree days of a day of the year; 29 February counts as 28 February."""
    normal = normals.get("02-28" if (day.month, day.day) == (2, 29) else f"{day:%m-%d}")
    value = normal.value(spec) if normal is not None else None
    return None if value is None else value[0]


@dataclass(frozen=True, slots=True)
class Emergence:
    """When a crop is up. `state`: "predicted", "moved" (a look in vain moved the early day), "overdue" (a look in vain
    after the late day), "confirmed" (both days are the one on which it was seen), "unknown" (the curve does not reach).

    `early_by` and `late_by` say what the day stands on: "observed", "forecast" or "normal"."""

    state: str
    early: date | None
    late: date | None
    early_by: str = ""
    late_by: str = ""


def emergence(
    curve: Curve,
    zone: str,
    planted: int,
    low: int,
    high: int,
    *,
    seen: date | None = None,
    in_vain: date | None = None,
) -> Emergence:
    """From the published range `low` to `high` in hundredths of a degree day, counted from the day after `planted`.

    An observation goes before any reckoning: `seen` confirms, `in_vain` (the last look at which nothing was up) says
    that it comes on the day after that look at the earliest."""
    if seen is not None:
        return Emergence("confirmed", seen, seen, "observed", "observed")
    (early, early_by), (late, late_by) = (_reached(curve, zone, planted, amount) for amount in (low, high))
    if early is None:
        return Emergence("unknown", None, None)
    if in_vain is not None and in_vain >= early:
        if late is not None and in_vain >= late:
            return Emergence("overdue", None, None)
        return Emergence("moved", in_vain + timedelta(days=1), late, "observed", late_by)
    return Emergence("predicted", early, late, early_by, late_by)


def _reached(curve: Curve, zone: str, planted: int, amount: int) -> tuple[date | None, str]:
    end = curve.reach(planted, amount)
    if end >= FAR:
        return None, ""
    day = curve.day(end - 1)
    return day_of(zone, end - 1), curve.sources[day] if day is not None else ""


def day_of(zone: str, minute: int) -> date:
    """The local civil day of a minute since 1970-01-01 UTC."""
    return datetime.fromtimestamp(minute * 60, UTC).astimezone(ZoneInfo(zone)).date()


def late_requirement(full: float, planted: date, *, less_per_day: float) -> float:
    """Degree days from planting to ripeness of a late planting: `less_per_day` fewer for each day after 1 May.

    Corn: 6.8 a day (Ohio State University Extension AGF-101): a hybrid of 2700 planted on 30 May needs 2502.8. An early
    planting needs no more than the full sum."""
    return full - less_per_day * max(0, (planted - date(planted.year, 5, 1)).days)


def daily_hundredths(high_f: NDArray[np.float64], low_f: NDArray[np.float64], spec: DegreeDaySpec) -> NDArray[np.int64]:
    """Degree days of many days at once, the figures of `degree_days`; NOT_COUNTED where a temperature is NaN or the low
    lies above the high."""
    unknown = np.isnan(high_f) | np.isnan(low_f) | (low_f > high_f)
    high, low = (_rounded(np.where(unknown, 0.0, values)) for values in (high_f, low_f))
    base = int(_rounded(np.array(spec.base_f)))
    cap = None if spec.cap_f is None else int(_rounded(np.array(spec.cap_f)))
    if spec.method == "modified" and cap is not None:
        high, low = np.clip(high, base, cap), np.clip(low, base, cap)
    twice = high + low
    if cap is not None:
        twice = np.minimum(twice, 2 * cap)
    return np.where(unknown, NOT_COUNTED, np.maximum(0, (twice - 2 * base + 1) // 2))


def _rounded(values: NDArray[np.float64]) -> NDArray[np.int64]:
    return np.floor(values * 100 + 0.5).astype(np.int64)


@dataclass(frozen=True, slots=True)
class Stages:
    """A published table of stages by degree days. `spec` is how it counts, `zero` from when ("planting" or
    "emergence"); two tables with different zeros are never mixed. `sums[variety]` has one figure a stage, None where
    the table gives none."""

    key: str
    crop: str
    spec: str
    zero: str
    source: str
    names: tuple[str, ...]
    sums: Mapping[str, tuple[float | None, ...]]
    note: str = ""

    def at(self, variety: str, total: float) -> tuple[str, str, float | None]:
        """(last stage reached, next stage, degree days to it) at so many degree days; "" and None at the ends."""
        known = [(name, sum_) for name, sum_ in zip(self.names, self.sums[variety], strict=True) if sum_ is not None]
        past = [name for name, sum_ in known if sum_ <= total]
        ahead = [(name, sum_) for name, sum_ in known if sum_ > total]
        return (past[-1] if past else "", ahead[0][0] if ahead else "", ahead[0][1] - total if ahead else None)

    def left(self, variety: str, stage: str) -> float | None:
        """Degree days from a stage to the last one of the table, ripeness."""
        sums = self.sums[variety]
        here, last = sums[self.names.index(stage)], sums[-1]
        return None if here is None or last is None else last - here


def read_stages(text: str, *, sources: Collection[str], crops: Collection[str]) -> tuple[Stages, ...]:
    """The tables of a TOML text, in its order.

    Raises:
        ValueError: a table names an unknown source or crop, or its figures do not fit its stages or fall."""
    return tuple(_stages(key, row, sources, crops) for key, row in tomllib.loads(text).items())


def _stages(key: str, row: Mapping[str, Any], sources: Collection[str], crops: Collection[str]) -> Stages:
    if row["source"] not in sources or row["crop"] not in crops:
        raise ValueError(f"Stages {key} name what is not known: {row['source']}, {row['crop']}.")
    if row["zero"] not in ("planting", "emergence"):
        raise ValueError(f"Stages {key} count from '{row['zero']}', which is neither planting nor emergence.")
    DegreeDaySpec.parse(row["counted"])
    names = tuple(row["stages"])
    sums: dict[str, tuple[float | None, ...]] = {}
    for variety, figures in row["sums"].items():
        told: Sequence[float | None] = [None if figure == "" else float(figure) for figure in figures]
        rising = [figure for figure in told if figure is not None]
        if len(told) != len(names) or rising != sorted(rising):
            raise ValueError(f"Stages {key}, {variety}: the figures do not fit the stages, or fall.")
        sums[variety] = tuple(told)
    return Stages(key, row["crop"], row["counted"], row["zero"], row["source"], names, sums, row.get("note", ""))
