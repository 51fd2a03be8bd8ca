"""Many years at once against the plain walk in a loop, and the laws of a replayed season."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest

from jobs.chances.chance import chance
from jobs.chances.replay import Season, one_by_one, reference_part, replay
from jobs.chances.spoiling import plots_of
from jobs.graph.data import FAR, NEG, Arc, DegreeDays, Fixed, Moment, Node, Problem
from tests.jobs.graph.random_problems import DAY, OBSERVED_DAYS, SHAPE, generate, local_midnights

DAYS = local_midnights()[OBSERVED_DAYS : OBSERVED_DAYS + 301]
TODAY = DAYS[0]
YEARS = 12


def masks(seed: int, years: int = YEARS) -> list[np.ndarray]:
    """Suitable days of three kinds of work: often, seldom, in spells."""
    rng = np.random.default_rng(seed)
    shape = (years, len(DAYS) - 1)
    spells = np.repeat(rng.random((years, len(DAYS) // 10 + 1)) < 0.4, 10, axis=1)[:, : shape[1]]
    return [rng.random(shape) < 0.5, rng.random(shape) < 0.04, spells]


def season_of(problem: Problem, seed: int, years: int = YEARS) -> Season:
    kinds, rng, generator = masks(seed, years), Random(seed), np.random.default_rng(seed)
    part = reference_part(problem)
    suitable = {node.id: rng.choice(kinds) for node in part.nodes if rng.random() < 0.8}
    curve_days = local_midnights()
    values = {}
    for number, curve in part.curves.items():
        past = np.repeat(np.array(curve.values[:OBSERVED_DAYS])[None, :], years, axis=0)
        shape = (years, len(curve_days) - 1 - OBSERVED_DAYS)
        if len(curve) > OBSERVED_DAYS:
            ahead = (np.array(curve.values[OBSERVED_DAYS:]) * generator.uniform(0.7, 1.3, shape)).astype(np.int64)
        else:  # rain: nothing of it is known ahead
            ahead = np.where(generator.random(shape) < 0.2, generator.integers(0, 150, shape), 0)
        values[number] = np.concatenate([past, ahead], axis=1)
    return Season(part, years, DAYS, suitable, curve_days, values)


@pytest.mark.parametrize("seed", range(24))
def test_all_years_at_once_are_the_plain_walk_in_a_loop(seed: int) -> None:
    """Random seasons of the real mix: longest waits, degree days, rain, closures, reports, ways not taken."""
    shape = replace(SHAPE, rain=0.1 if seed % 3 == 0 else 0.0, jobs=(8, 14), done=0.2)
    season = season_of(generate(seed, 6, shape), seed)
    both = replay(season), one_by_one(season)
    assert np.array_equal(*both), np.argwhere(both[0] != both[1])[:3]


def test_what_is_compared_has_kept_and_missed_jobs_in_the_same_season() -> None:
    found = replay(season_of(generate(5, 6, replace(SHAPE, done=0.2)), 5))
    assert 0.2 < (found < FAR).mean() < 0.98


def chain(*lags: int, deadline_days: int = 60, count: int | None = None) -> Problem:
    """One after the other, an hour each, the last to be finished in so many days."""
    size = len(lags) + 1 if count is None else count
    nodes = tuple(Node(k, 1, 60, ((NEG, FAR),), DAYS[deadline_days] if k == size else None) for k in range(1, size + 1))
    arcs = tuple(Arc(k, k, k + 1, minimum=Fixed(lag * DAY)) for k, lag in enumerate(lags, start=1))
    return Problem(TODAY, nodes, arcs)


def share_of_last(problem: Problem, holds: np.ndarray) -> float:
    names = {node.id: holds for node in problem.nodes}
    found = replay(Season(problem, len(holds), DAYS, names))
    return float((found[-1] < FAR).mean())


def plain_share(holds: np.ndarray, deadline_days: int = 60) -> float:
    return chance(tuple(range(len(holds))), holds[:, :deadline_days], 60).share


@pytest.mark.parametrize("seed", range(20))
def test_with_all_lags_zero_the_share_is_that_of_the_plain_windows(seed: int) -> None:
    seldom = masks(seed, 40)[1]
    assert share_of_last(chain(0, 0, deadline_days=20), seldom) == plain_share(seldom, 20)


@pytest.mark.parametrize("seed", range(20))
def test_with_a_lag_the_share_is_lower_or_equal(seed: int) -> None:
    seldom = masks(seed, 40)[1]
    shares = [share_of_last(chain(lag, deadline_days=20), seldom) for lag in (0, 3, 8, 15, 25)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] == plain_share(seldom, 20)
    assert shares[-1] == 0.0


def test_somewhere_a_lag_lowers_the_share() -> None:
    seldom = masks(3, 40)[1]
    assert share_of_last(chain(8, deadline_days=20), seldom) < share_of_last(chain(0, deadline_days=20), seldom)


@pytest.mark.parametrize("seed", range(20))
def test_one_year_of_history_says_yes_or_no(seed: int) -> None:
    season = season_of(generate(seed, 4, SHAPE), seed, years=1)
    plots = {node.id: 1 + node.id % 3 for node in season.problem.nodes}
    told = plots_of(season, replay(season), plots)
    assert told
    assert {plot.share for plot in told.values()} <= {0.0, 1.0}


def test_the_job_that_spoils_most_is_the_first_that_was_not_finished() -> None:
    """Three years: in two of them the second job has no day before its deadline, in the third nothing is missing."""
    good, never = np.ones((3, 300), bool), np.zeros((3, 300), bool)
    never[2] = True
    problem = chain(1, 1)
    tight = replace(problem, nodes=tuple(replace(node, deadline=DAYS[30]) for node in problem.nodes))
    season = Season(tight, 3, DAYS, {1: good, 2: never, 3: good})
    told = plots_of(season, replay(season), {1: 7, 2: 7, 3: 8})
    assert (told[7].finished, told[7].years, told[7].spoiler, told[7].spoiled) == (1, 3, 2, 2)
    assert (told[8].finished, told[8].spoiler) == (1, 2)  # its own job waited for one of another plot


def test_a_plot_whose_work_is_done_is_finished_in_every_year() -> None:
    done = Node(1, 1, 60, finished=Moment.at(TODAY - DAY))
    season = Season(Problem(TODAY, (done,)), 4, DAYS, {})
    told = plots_of(season, replay(season), {1: 5})
    assert (told[5].share, told[5].spoiler) == (1.0, None)


def test_a_longest_wait_that_a_year_cannot_keep_is_not_finished_there() -> None:
    """The second at most two days after the first. Year 0 has such a pair of days, year 1 days ten apart alone."""
    first, second = np.zeros((2, 300), bool), np.zeros((2, 300), bool)
    first[0, 5] = first[0, 20] = second[0, 21] = True
    first[1, 5] = second[1, 15] = True
    nodes = tuple(Node(k, 1, 60) for k in (1, 2))
    arc = Arc(1, 1, 2, minimum=Fixed(0), maximum=Fixed(2 * DAY))
    season = Season(Problem(TODAY, nodes, (arc,)), 2, DAYS, {1: first, 2: second})
    found = replay(season)
    assert found.tolist() == one_by_one(season).tolist() == [[DAYS[20] + 60, FAR], [DAYS[21] + 60, FAR]]


def test_a_longest_wait_from_what_was_done_bounds_the_year_too() -> None:
    """At most 100 degree days after what was done yesterday: five days at 20 a day, twenty at 5. The day comes on the
    tenth."""
    warm, cold = np.full(300, 2_000), np.full(300, 500)
    tenth = np.zeros((2, 300), bool)
    tenth[:, 10] = True
    nodes = (Node(1, 1, 60, finished=Moment.at(TODAY)), Node(2, 1, 60))
    arc = Arc(1, 1, 2, minimum=Fixed(0), maximum=DegreeDays(1, 10_000))
    season = Season(Problem(TODAY, nodes, (arc,)), 2, DAYS, {2: tenth}, DAYS, {1: np.stack([warm, cold])})
    found = replay(season)
    assert found[1].tolist() == [FAR, DAYS[10] + 60]
    assert np.array_equal(found, one_by_one(season))


def test_degree_days_count_each_years_own_temperatures() -> None:
    warm, cold = np.full(300, 2_000), np.full(300, 500)
    nodes = tuple(Node(k, 1, 60) for k in (1, 2))
    arc = Arc(1, 1, 2, minimum=DegreeDays(1, 10_000))
    season = Season(Problem(TODAY, nodes, (arc,)), 2, DAYS, {}, DAYS, {1: np.stack([warm, cold])})
    assert replay(season)[1].tolist() == [DAYS[6] + 60, DAYS[21] + 60]  # 5 days after today's, 20 days after it
