"""The quick plan that the search begins with keeps the rules by itself, and is the same every time."""

from __future__ import annotations

import pytest

from jobs.planner.start import first_plan
from tests.bench.weekend_cases import weekend
from tests.jobs.planner.cases import small
from tests.jobs.planner.checker import faults
from tests.jobs.planner.weekend import job, problem, replace


@pytest.mark.parametrize(("people", "jobs", "seed"), [(3, 25, 1), (3, 25, 2), (8, 60, 1), (8, 60, 3)])
def test_a_quick_plan_of_a_large_weekend_has_no_faults(people: int, jobs: int, seed: int) -> None:
    case = weekend(people, jobs, seed)
    plan = first_plan(case, rounds=5)
    assert faults(case, plan) == []
    assert sum(case.job(item.job).stake for item in plan) > 0.4 * sum(one.stake for one in case.jobs)


@pytest.mark.parametrize("seed", range(60))
def test_a_quick_plan_of_a_small_weekend_breaks_nothing_but_wishes(seed: int) -> None:
    case = replace(small(seed), wishes=())
    assert faults(case, first_plan(case, rounds=3)) == []


def test_the_same_seed_gives_the_same_plan() -> None:
    case = weekend(3, 25)
    assert first_plan(case, seed=4) == first_plan(case, seed=4)


def test_nobody_and_nothing_give_an_empty_plan() -> None:
    assert first_plan(problem(())) == ()
    assert first_plan(problem((job("look"),), people=(), shifts=())) == ()
