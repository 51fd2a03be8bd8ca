"""Circles and contradictions are named, whatever the order of the input (D14)."""

from random import Random

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.graph.cycles import (
    CycleError,
    Step,
    find_cycle,
    fixed_contradiction,
    path_between,
    positive_loop,
    strongly_connected,
)
from jobs.graph.data import Arc, DegreeDays, Fixed, Relation

DAY = 1440
EDGES = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=16)


def test_a_circle_is_named_in_the_order_of_waiting_from_its_smallest_job() -> None:
    assert find_cycle([(9, 4), (4, 7), (7, 9), (1, 9)]) == [4, 7, 9]


def test_without_a_circle_there_is_none() -> None:
    assert find_cycle([(1, 2), (1, 3), (2, 4), (3, 4)]) is None
    assert find_cycle([]) is None


def test_a_job_before_itself_is_a_circle() -> None:
    assert find_cycle([(1, 2), (2, 2)]) == [2]


@settings(deadline=None)
@given(EDGES, st.randoms())
def test_a_circle_is_found_exactly_where_there_is_one(edges: list[tuple[int, int]], random: Random) -> None:
    found = find_cycle(edges)
    shuffled = list(edges)
    random.shuffle(shuffled)
    assert find_cycle(shuffled) == found
    assert (found is None) == nx.is_directed_acyclic_graph(nx.DiGraph(edges))
    if found is not None:
        assert all(step in edges for step in zip(found, [*found[1:], found[0]], strict=True))


def test_an_edge_would_close_the_circle_that_leads_back_from_its_head() -> None:
    edges = [(1, 2), (2, 3), (3, 4), (1, 4)]
    assert path_between(edges, 1, 4) == [1, 4]
    assert path_between(edges, 2, 4) == [2, 3, 4], "so 4 -> 2 would close 2, 3, 4"
    assert path_between([*edges, (4, 5)], 2, 5) == [2, 3, 4, 5]
    assert path_between([(1, 2), (1, 3), (2, 4), (3, 4), (4, 5)], 1, 5) == [1, 2, 4, 5], "the lower of two equal ways"
    assert path_between(edges, 4, 1) is None
    assert path_between(edges, 5, 5) == [5]


def test_the_error_names_the_jobs() -> None:
    error = CycleError([4, 7, 9])
    assert error.jobs == (4, 7, 9)
    assert "4, 7, 9" in str(error)


@settings(deadline=None)
@given(EDGES)
def test_strongly_connected_parts_come_in_topological_order(edges: list[tuple[int, int]]) -> None:
    parts = strongly_connected(range(8), edges)
    graph = nx.DiGraph(edges)
    graph.add_nodes_from(range(8))
    assert sorted(parts) == sorted(sorted(part) for part in nx.strongly_connected_components(graph))
    place = {job: k for k, part in enumerate(parts) for job in part}
    assert all(place[tail] <= place[head] for tail, head in edges)


def test_the_longest_way_of_minima_above_a_maximum_is_a_contradiction_with_its_sum() -> None:
    """Kill, 10 days, till, 8 days, plant; but plant within 14 days of the kill: 4 days too many."""
    arcs = [
        Arc(1, 1, 2, minimum=Fixed(10 * DAY)),
        Arc(2, 2, 3, minimum=Fixed(8 * DAY)),
        Arc(3, 1, 3, maximum=Fixed(14 * DAY)),
    ]
    found = fixed_contradiction(arcs, {1: 60, 2: 0, 3: 90})
    assert found is not None
    assert found.jobs == (1, 2, 3)
    assert found.steps == (
        Step(1, False, 10 * DAY + 60), Step(2, False, 8 * DAY), Step(3, True, -14 * DAY - 60),
    )  # fmt: skip
    assert found.over == 4 * DAY


def test_durations_between_count_in_the_sum() -> None:
    """7 + 7 days fit a maximum of 14, and no longer if the job between takes a day."""
    arcs = [
        Arc(1, 1, 2, minimum=Fixed(7 * DAY)),
        Arc(2, 2, 3, minimum=Fixed(7 * DAY)),
        Arc(3, 1, 3, maximum=Fixed(14 * DAY)),
    ]
    assert fixed_contradiction(arcs, {1: 60, 2: 0, 3: 90}) is None
    found = fixed_contradiction(arcs, {1: 60, 2: DAY, 3: 90})
    assert found is not None
    assert found.over == DAY


def test_finish_to_finish_counts_the_heads_duration() -> None:
    arcs = [Arc(1, 1, 2, Relation.FINISH_FINISH, minimum=Fixed(50), maximum=Fixed(40))]
    found = fixed_contradiction(arcs, {1: 30, 2: 500})
    assert found is not None
    assert found.over == 10
    assert sorted(step.minutes for step in found.steps) == [50 + 30 - 500, 500 - 30 - 40]


def test_lags_on_weather_are_no_fixed_contradiction() -> None:
    arcs = [Arc(1, 1, 2, minimum=DegreeDays(0, 10**9), maximum=Fixed(0)), Arc(2, 1, 2, maximum=DegreeDays(0, 1))]
    assert fixed_contradiction(arcs, {1: 0, 2: 0}) is None


@pytest.mark.parametrize("seed", range(40))
def test_the_contradiction_does_not_depend_on_the_order_of_the_arcs(seed: int) -> None:
    random = Random(seed)
    arcs = [
        Arc(k, *random.sample(range(5), 2), minimum=Fixed(random.randint(-3, 5)), maximum=Fixed(random.randint(2, 9)))
        for k in range(7)
    ]
    durations = dict.fromkeys(range(5), 1)
    shuffled = random.sample(arcs, len(arcs))
    assert fixed_contradiction(arcs, durations) == fixed_contradiction(shuffled, durations)


def test_no_steps_make_no_loop() -> None:
    assert positive_loop([]) is None
