"""Windows of 1,000 properties over a week of hours and ten kinds of limits, beside plain Python hour by hour.

The loop runs the scalar functions that the tests hold the limits to, over a part of the properties only; its time is
taken per property. Equal answers are asserted there first. The other measure is one numpy pass a limit over the same
arrays: a subtraction on either side and the lesser of both.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from jobs.windows.finding import held
from jobs.windows.hours import HOUR, Hours, hours_of
from jobs.windows.limits import (
    Away,
    Between,
    DryAhead,
    DryBefore,
    Highest,
    Limit,
    Lowest,
    RainAhead,
    Receded,
    Rule,
    Steady,
)
from plots.forecasts.values import HourValues, RainTotal
from tests.bench.timing import Say, timed
from tests.jobs.windows.scalar import Place, distance

FIRST = 28_800_000
WEEK = 168
RULES: tuple[Rule, ...] = (
    Between("temp_f", 40, 85),
    Between("humidity_pct", 30, 70),
    Between("wind_mph", 3, 15),
    Lowest("temp_f", 72, 30),
    Highest("gust_mph", 6, 35),
    DryAhead(6, 0.05),
    RainAhead(48, 0.1),
    DryBefore(24, 0.1),
    Away((40, 130), 45),
    Steady(12, 90),
)
STAGE = Receded("mixing_ft", 6_000, 500, 3)
NAMES = ("temp_f", "humidity_pct", "wind_mph", "gust_mph", "wind_dir_deg", "mixing_ft")
SPREAD = {"temp_f": (60, 15), "humidity_pct": (55, 15), "wind_mph": (9, 4), "gust_mph": (18, 6),
          "wind_dir_deg": (180, 60), "mixing_ft": (4_000, 1_200)}  # fmt: skip


def main(*, sizes: list[int] | None = None, full: bool = False, say: Say = print) -> dict[str, Any]:
    """Rows of milliseconds, their ratios, and whether every distance was that of the plain function."""
    rows = []
    for count in sizes or ([1_000, 10_000] if full else [1_000]):
        places, hours = _season(count)
        part = min(count, 20)
        equal = _equal(places[:part], hours)
        limits = [Limit(str(at), "", "", 1.0, rule, "common-practice") for at, rule in enumerate(RULES)]
        ours = _best_ms(lambda limits=limits, hours=hours: held(limits, hours))
        plain = _best_ms(lambda places=places, part=part: _loop(places[:part]), repeats=1) * count / part
        arrays = [hours.of(name) for name in NAMES]
        one_pass = _best_ms(lambda arrays=arrays: _passes(arrays))
        say(f"{count} properties: {ours:.1f} ms, plain Python {plain:.0f} ms, one pass a limit {one_pass:.1f} ms")
        rows.append(
            {
                "properties": count,
                "ours_ms": round(ours, 2),
                "plain_ms": round(plain),
                "passes_ms": round(one_pass, 2),
                "plain_over_ours": round(plain / ours, 1),
                "ours_over_passes": round(ours / one_pass, 2),
                "equal": equal,
            }
        )
    first = rows[0]
    ratios = {"plain_over_ours": first["plain_over_ours"], "ours_over_passes": first["ours_over_passes"]}
    return {"ratios": ratios, "equal": all(row["equal"] for row in rows), "rows": rows}


def _best_ms(run: Callable[[], Any], repeats: int = 15) -> float:
    return 1000 * min(timed(run, time.process_time)[0] for _ in range(repeats))


def _season(count: int) -> tuple[list[Place], Hours]:
    """Places with their own weather, one value in fifty missing, rain in totals of six hours and of one."""
    random = np.random.default_rng(7)
    columns = {}
    for name, (middle, spread) in SPREAD.items():
        drawn = np.abs(random.normal(middle, spread, (count, WEEK)))
        drawn = np.minimum(drawn, 100.0) if name == "humidity_pct" else drawn % 360 if "dir" in name else drawn
        columns[name] = np.where(random.random((count, WEEK)) < 0.02, np.nan, drawn)
    places, built = [], []
    for at in range(count):
        totals, hour = [], 0
        while hour < WEEK:
            length = 6 if random.random() < 0.5 else 1
            totals.append((hour, hour + length, 0.3 if random.random() < 0.05 else 0.0))
            hour += length
        values = {
            name: [None if math.isnan(value) else value for value in column[at].tolist()]
            for name, column in columns.items()
        }
        places.append(Place(WEEK, values, totals))
        built.append(
            (
                [HourValues(FIRST + HOUR * h, **{name: values[name][h] for name in NAMES}) for h in range(WEEK)],
                [RainTotal(FIRST + HOUR * start, FIRST + HOUR * end, inches) for start, end, inches in totals],
            )
        )
    return places, hours_of(FIRST, WEEK, built)


def _loop(places: Sequence[Place]) -> list[list[bool]]:
    return [
        [
            all((found := distance(rule, place, hour)) is not None and found >= 0 for rule in RULES)
            for hour in range(WEEK)
        ]
        for place in places
    ]


def _equal(places: Sequence[Place], hours: Hours) -> bool:
    """Every distance of every rule, the river's among them, is that of the plain function."""
    for rule in (*RULES, STAGE):
        ours = rule.margin(hours)
        for at, place in enumerate(places):
            for hour in range(WEEK):
                theirs, mine = distance(rule, place, hour), ours[at, hour]
                if theirs is None if np.isnan(mine) else theirs is not None and abs(theirs - mine) < 1e-5:
                    continue
                return False
    return True


def _passes(arrays: Sequence[np.ndarray]) -> list[np.ndarray]:
    """As many distances as there are limits, kept as ours are."""
    columns = [arrays[at % len(arrays)] for at in range(len(RULES))]
    return [np.minimum(column - 3.0, 90.0 - column) for column in columns]
