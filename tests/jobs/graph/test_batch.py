"""The batch gives what the plain lists give, in every field of every job."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.graph import MANY, batch, choices, schedule
from jobs.graph.batch.columns import ARC_COLUMNS, FEW, JOB_COLUMNS, columns_of
from jobs.graph.batch.lags import Curves
from jobs.graph.cycles import CycleError
from jobs.graph.data import FAR, NEG, Arc, Branch, BranchState, DegreeDays, Fixed, Moment, Node, Problem, Relation
from tests.bench import holdings
from tests.jobs.graph.random_problems import CURVES, DAY, SHAPE, SMALL, Shape, generate, problems

TODAY = 20_000 * DAY
SIMPLE = replace(SHAPE, spans=0.0, outcomes=0.0, degree_days=0.05)
"""What the batch reckons without handing much on: one stretch of days, one group of alternatives."""


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(problems(shape=replace(SMALL, spans=0.2), components=3))
def test_small_random_problems_are_equal(problem: Problem) -> None:
    assert batch.schedule(problem) == choices.schedule(problem)


@pytest.mark.parametrize(
    "shape",
    [
        SHAPE,
        SIMPLE,
        replace(SIMPLE, alternatives=1.0, done=0.2),
        replace(SIMPLE, maximum=0.5, degree_days=0.3, done=0.1),
        replace(SIMPLE, skips=0.4, confirmations=0.8, out_of_order=1.0),
        replace(SHAPE, rain=0.2, two_groups=0.5, nested=0.3, two_outcomes=0.3),
    ],
    ids=["everything", "simple", "alternatives", "maximal lags", "skips", "branches"],
)
def test_seasons_of_full_size_are_equal(shape: Shape) -> None:
    for seed in range(25):
        problem = generate(50_000 + seed, 5, shape)
        assert batch.schedule(problem) == choices.schedule(problem), f"seed {50_000 + seed}"


def test_most_simple_components_are_not_handed_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """Equality would prove nothing if the plain lists did all the work."""
    handed: list[int] = []
    parts = batch.schedule_parts

    def counting(problem: Problem) -> object:
        handed.append(len(problem.nodes))
        return parts(problem)

    monkeypatch.setattr(batch, "schedule_parts", counting)
    problem = generate(1, 100, replace(SIMPLE, degree_days=0.0, maximum=0.1))
    assert batch.schedule(problem) == choices.schedule(problem)
    assert sum(handed) < len(problem.nodes) / 3


@pytest.mark.parametrize(("jobs", "handed"), [(MANY - 1, False), (MANY, True)])
def test_many_jobs_go_to_the_batch_and_give_the_same(jobs: int, handed: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    problem = holdings.problem_of(holdings.make(jobs, 7, real=True))
    seen: list[Problem] = []
    columns = batch.columns_of
    monkeypatch.setattr(batch, "columns_of", lambda given: (seen.append(given), columns(given))[1])
    assert schedule(problem) == choices.schedule(problem)
    assert bool(seen) == handed


def test_dates_made_on_asking_are_a_mapping_in_the_order_of_ids() -> None:
    columns = holdings.make(40, 7, real=True)
    dates = batch.schedule_columns(columns).dates
    assert list(dates) == sorted(columns.job)
    assert len(dates) == 40
    assert 0 not in dates
    assert 40 in dates
    assert dates[40] is dates[40]
    with pytest.raises(KeyError):
        dates[0]


def test_columns_as_lists_or_arrays_give_the_same() -> None:
    columns = holdings.make(300, 3, real=True)
    names = (*JOB_COLUMNS, *ARC_COLUMNS, *FEW)
    ready = {name: np.array(getattr(columns, name), np.int64) for name in names}
    problem = holdings.problem_of(columns)
    wanted = choices.schedule(problem)
    assert batch.schedule_columns(columns) == wanted
    assert batch.schedule_columns(replace(columns, curves=Curves(columns.curves), **ready)) == wanted
    assert batch.schedule_columns(columns_of(problem)) == wanted


def test_order_of_rows_changes_nothing() -> None:
    problem = generate(4, 6, SIMPLE)
    turned = replace(problem, nodes=problem.nodes[::-1], arcs=problem.arcs[::-1], branches=problem.branches[::-1])
    assert batch.schedule(problem) == batch.schedule(turned)


def test_maximal_lag_delays_the_predecessor() -> None:
    """Spray at most 14 days before planting, planting not before day 40: the spray waits for day 26 (D1)."""
    spray = Node(1, 1, 60)
    plant = Node(2, 1, 120, spans=((TODAY + 40 * DAY, FAR),))
    arc = Arc(7, 1, 2, Relation.FINISH_START, Fixed(0), Fixed(14 * DAY))
    dates = batch.schedule(Problem(TODAY, (spray, plant), (arc,))).dates
    assert dates[1].es == TODAY + 26 * DAY - 60
    assert dates[1].why_es.arc == 7


def test_first_alternative_that_is_still_in_time_is_the_reference() -> None:
    until = TODAY + 5 * DAY
    nodes = (
        Node(1, 1, 60),
        Node(2, 1, 10 * DAY, branch=1, deadline=until),
        Node(3, 1, DAY, branch=2, deadline=until),
    )
    arcs = (Arc(1, 1, 2, minimum=Fixed(0)), Arc(2, 1, 3, minimum=Fixed(0)))
    found = batch.schedule(Problem(TODAY, nodes, arcs, (Branch(1, 1, "g", 0), Branch(2, 1, "g", 1))))
    assert not found.dates[2].on_reference
    assert found.dates[3].on_reference
    assert found.dates[1].ls == until - DAY - 60
    assert set(found.branches.values()) == {BranchState.OPEN}


def test_branches_without_jobs_keep_their_states() -> None:
    """One is opened by a job that the batch would reckon, one is nested in it."""
    problem = Problem(
        TODAY,
        (Node(1, 1, 60, finished=Moment.at(TODAY - DAY), outcome="good"), Node(2, 1, 60)),
        (Arc(1, 1, 2, minimum=Fixed(0)),),
        (
            Branch(1, 1, opened_by=1, outcomes=frozenset({"poor"})),
            Branch(2, 1, parent=1),
            Branch(3, 1, "g", called_off=True),
        ),
    )
    assert batch.schedule(problem) == choices.schedule(problem)


def test_circle_of_minimal_lags_is_named() -> None:
    arcs = (Arc(1, 1, 2, minimum=Fixed(0)), Arc(2, 2, 1, minimum=Fixed(0)))
    with pytest.raises(CycleError, match="1, 2"):
        batch.schedule(Problem(TODAY, (Node(1, 1, 60), Node(2, 1, 60)), arcs))


def test_arc_to_a_job_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match="Prerequisite 1 names job 9"):
        batch.schedule(Problem(TODAY, (Node(1, 1, 60),), (Arc(1, 9, 1, minimum=Fixed(0)),)))


def test_nothing_gives_nothing() -> None:
    found = batch.schedule(Problem(TODAY, ()))
    assert (dict(found.dates), dict(found.branches)) == ({}, {})


def test_curves_end_to_end_answer_as_each_curve_alone() -> None:
    curves = [CURVES[number] for number in (1, 2, 3)]
    together = Curves(curves)

    @settings(max_examples=50, deadline=None)
    @given(
        st.lists(
            st.tuples(
                st.integers(1, 3),
                st.integers(curves[0].day_starts[0] - 3 * DAY, curves[0].day_starts[-1] + 3 * DAY)
                | st.sampled_from([FAR, NEG]),
                st.integers(0, 400_000),
            ),
            min_size=1,
        )
    )
    def equal(asked: list[tuple[int, int, int]]) -> None:
        curve, instant, amount = (np.array(column, np.int64) for column in zip(*asked, strict=True))
        reach, latest = together.reach(curve, instant, amount), together.latest_anchor(curve, instant, amount)
        for k, (number, at, hundredths) in enumerate(asked):
            alone = curves[number - 1]
            assert latest[k] == alone.latest_anchor(at, hundredths)
            assert reach[k] == (NEG if at == NEG else alone.reach(at, hundredths))

    equal()


def test_lag_on_a_curve_that_nobody_has_is_unknown() -> None:
    arcs = (Arc(1, 1, 2, minimum=DegreeDays(9, 100)),)
    found = batch.schedule(Problem(TODAY, (Node(1, 1, 60), Node(2, 1, 60)), arcs))
    assert found.dates[2].es == FAR
