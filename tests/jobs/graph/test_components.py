"""Components by their smallest job."""

import networkx as nx
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.graph.components import connected_components, members, ties
from jobs.graph.data import Arc, Branch, Node


def job(number: int, season: int = 1, branch: int | None = None) -> Node:
    return Node(number, season, 60, branch=branch)


def components(nodes: list[Node], arcs: list[Arc], branches: list[Branch]) -> dict[int, int]:
    return connected_components([node.id for node in nodes], ties(nodes, arcs, branches))


def test_arcs_tie_and_the_smallest_id_names() -> None:
    nodes = [job(k) for k in (3, 5, 8, 9)]
    assert components(nodes, [Arc(1, 9, 5), Arc(2, 9, 8)], []) == {3: 3, 5: 5, 8: 5, 9: 5}


def test_a_branch_ties_its_jobs_and_its_siblings() -> None:
    nodes = [job(1), job(2, branch=10), job(3, branch=10), job(4, branch=11), job(5, branch=12)]
    branches = [Branch(10, 1, "way"), Branch(11, 1, "way"), Branch(12, 1, "other")]
    assert components(nodes, [], branches) == {1: 1, 2: 2, 3: 2, 4: 2, 5: 5}


def test_equal_group_names_in_two_seasons_are_two_groups() -> None:
    nodes = [job(1, branch=10), job(2, 2, branch=20)]
    assert components(nodes, [], [Branch(10, 1, "way"), Branch(20, 2, "way")]) == {1: 1, 2: 2}


def test_a_check_is_tied_to_what_it_opens_also_through_a_branch_without_jobs() -> None:
    nodes = [job(1), job(2, branch=11)]
    branches = [Branch(10, 1, opened_by=1), Branch(11, 1, parent=10)]
    assert components(nodes, [], branches) == {1: 1, 2: 1}


def test_a_check_that_is_not_among_the_jobs_ties_nothing() -> None:
    assert components([job(1, branch=10)], [], [Branch(10, 1, opened_by=99)]) == {1: 1}


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=12))
def test_components_are_the_connected_components(pairs: list[tuple[int, int]]) -> None:
    graph = nx.Graph(pairs)
    graph.add_nodes_from(range(10))
    expected = {number: min(part) for part in nx.connected_components(graph) for number in part}
    assert connected_components(range(10), pairs) == expected
    assert connected_components(reversed(range(10)), [pair[::-1] for pair in reversed(pairs)]) == expected


def test_members_are_listed_in_order() -> None:
    assert members({5: 2, 2: 2, 9: 1, 1: 1}) == {1: [1, 9], 2: [2, 5]}
