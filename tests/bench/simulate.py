"""A season replayed once for every year of history: all years at once beside the plain walk of one season in a loop.

The jobs are those of the walk's bench, the real mix; the weather is invented: 30 years of highs, lows and rain, and
four kinds of work with limits of their own. Both sides get the same arrays, and every finish is held equal first. The
loop's curves are built before its clock starts; what it builds itself are the days of each job in each year.
"""

from __future__ import annotations

import time
from random import Random
from typing import Any

import numpy as np

from jobs.chances.chance import chance
from jobs.chances.history import HIGH, LOW, RAIN, History
from jobs.chances.replay import Season, one_by_one, reference_part, replay
from jobs.chances.spoiling import plots_of
from jobs.chances.suitable import suitable
from jobs.graph.arcs import KNOWN
from jobs.minutes import local_day
from jobs.windows.limits import Between, DryAhead, DryBefore, Highest, Limit, Lowest, Rule
from plots.agronomy.growth import daily_hundredths
from plots.degree_days import CORN, DegreeDaySpec
from tests.bench import holdings
from tests.bench.timing import Say, row, timed
from tests.jobs.graph.random_problems import OBSERVED_DAYS, local_midnights

YEARS = 30
SIZES = [150]
FULL = [1_000, 5_000]
WORK: tuple[tuple[Rule, ...], ...] = (
    (DryAhead(2, 0.1), DryBefore(24, 0.5)),
    (DryAhead(6, 0.04), Lowest("temp_f", 48, 40.0)),
    (DryAhead(3, 0.1), Between("temp_f", most=60.0)),
    (DryAhead(1, 0.04), Highest("temp_f", 72, 92.0)),
)
WAYS = (CORN, DegreeDaySpec(40.0), DegreeDaySpec(50.0))
DAYS_AHEAD = 450


def main(*, sizes: list[int] | None = None, full: bool = False, say: Say = print) -> dict[str, Any]:
    """Rows of milliseconds, their ratios, and whether every finish of every job and year was equal."""
    rows: list[dict[str, Any]] = []
    ratios: dict[str, float] = {}
    equal = True
    for size in sizes or [*SIZES, *(FULL if full else [])]:
        season = invented(size, YEARS)
        for year in range(YEARS):
            season.curves(year)
        taken, plain = timed(lambda season=season: one_by_one(season), time.process_time)
        best, found = min(
            (timed(lambda season=season: replay(season), time.process_time) for _ in range(5)), key=lambda pair: pair[0]
        )
        same = bool(np.array_equal(found, plain))
        finished = round(float((found < KNOWN).mean()), 3)
        if not same or finished in (0.0, 1.0):
            say(f"{size} jobs: the finishes differ, or there is nothing to compare ({finished:.0%} finished).")
        equal &= same and finished not in (0.0, 1.0)
        plots = {node.id: node.season for node in season.problem.nodes}
        summed, told = timed(lambda s=season, f=found, p=plots: plots_of(s, f, p), time.process_time)
        jobs = len(season.problem.nodes)
        proof = f"{found.size} equal finishes" if same else "not equal"
        rows.append(row(size, f"plain walk in a loop, {YEARS} years x {jobs} jobs", taken, taken / best, proof))
        rows.append(row(size, f"all years at once, {YEARS} years x {jobs} jobs", best, 1.0, proof))
        rows.append(row(size, "what spoils each plot", summed, summed / best, f"{len(told)} plots"))
        ratios[f"plain walk in a loop / all years at once, {size}"] = round(taken / best, 1)
        say(f"{size} jobs: {finished:.0%} of the finishes kept; {len(told)} plots.")
    share, window = _one_job(rows)
    equal &= share
    ratios["loop over days / windows of all years at once"] = window
    return {"rows": rows, "ratios": ratios, "equal": equal}


def invented(jobs: int, years: int) -> Season:
    """The bench's holding on its reference way, with invented years of weather; the same for the same figures."""
    starts = local_midnights()
    today = OBSERVED_DAYS
    days = starts[today : today + DAYS_AHEAD + 1]
    weather = _weather(years, days)
    kinds = [suitable([_limit(rule) for rule in rules], weather).holds for rules in WORK]
    part = reference_part(holdings.problem_of(holdings.make(jobs, jobs + 7, real=True)))
    rng = Random(jobs)
    named = {node.id: kinds[rng.randrange(len(kinds))] for node in part.nodes if rng.random() < 0.8}
    values = {}
    for number, spec in zip(holdings.NUMBERS, WAYS, strict=True):
        past = np.repeat(np.array(part.curves[number].values[:today], np.int64)[None, :], years, axis=0)
        values[number] = np.concatenate([past, daily_hundredths(weather.of(HIGH), weather.of(LOW), spec)], axis=1)
    return Season(part, years, days, named, starts[: today + DAYS_AHEAD + 1], values)


def _weather(years: int, days: list[int]) -> History:
    random = np.random.default_rng(years)
    shape = years, len(days) - 1
    season = 55.0 - 30.0 * np.cos(2 * np.pi * (np.array(days[:-1]) // 1440 % 365) / 365)
    middle = season[None, :] + random.normal(0.0, 7.0, shape)
    spread = random.uniform(6.0, 14.0, shape)
    rain = np.where(random.random(shape) < 0.32, random.gamma(0.7, 0.45, shape), 0.0)
    local = tuple(local_day("Etc/GMT+5", start + 720) for start in days[:-1])
    values = {HIGH: np.round(middle + spread, 1), LOW: np.round(middle - spread, 1), RAIN: np.round(rain, 2)}
    return History(tuple(range(1990, 1990 + years)), local, values)


def _limit(rule: Rule) -> Limit:
    return Limit(type(rule).__name__, "", "", 1.0, rule, "common-practice")


def _one_job(rows: list[dict[str, Any]]) -> tuple[bool, float]:
    """The chance of one job of three days on end: all years at once beside a loop over years and days."""
    weather = _weather(YEARS, local_midnights()[OBSERVED_DAYS : OBSERVED_DAYS + 121])
    limits = [_limit(rule) for rule in WORK[0]]

    def together() -> tuple[tuple[int, ...], tuple[bool, ...]]:
        found = chance(weather.years, suitable(limits, weather).holds, 1_500)
        return found.days, found.got

    def loop() -> tuple[tuple[int, ...], tuple[bool, ...]]:
        counts, got = [], []
        for rain in weather.of(RAIN).tolist():
            good = [rain[d] <= 0.1 and d > 0 and rain[d] <= 0.5 and rain[d - 1] <= 0.5 for d in range(len(rain))]
            counts.append(sum(good))
            got.append(any(all(good[d : d + 3]) for d in range(len(good) - 2)))
        return tuple(counts), tuple(got)

    ours, found = min((timed(together, time.process_time) for _ in range(15)), key=lambda pair: pair[0])
    plain, wanted = min((timed(loop, time.process_time) for _ in range(5)), key=lambda pair: pair[0])
    same = found == wanted
    proof = "equal days and windows" if same else "not equal"
    rows.append(row(1, "chance of one job, loop over days", plain, plain / ours, proof))
    rows.append(row(1, "chance of one job, all years at once", ours, 1.0, proof))
    return same, round(plain / ours, 1)
