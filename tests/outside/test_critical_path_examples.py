"""Worked examples of the critical path method, and networkx, against the graph's dates.

Only figures were taken over: durations, relations, printed results. Each example names its source; what was read is
said with it. One time unit of a source is one day here, and its time 0 is the walk's `today`.
The examples' links are finish-to-start; all four relations, with lags, are held to networkx in random networks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

import networkx as nx
import pytest

from jobs.graph import schedule
from jobs.graph.data import Arc, Fixed, Node, Problem, Relation

DAY = 1440
TODAY = 20_500 * DAY
FS, FF, SF = Relation.FINISH_START, Relation.FINISH_FINISH, Relation.START_FINISH

Printed = tuple[int, int, int, int, int]
"""Earliest start, earliest finish, latest start, latest finish, slack."""


@dataclass(frozen=True)
class Example:
    source: str
    durations: dict[str, int]
    links: tuple[tuple[str, str, Relation, int], ...]
    length: int
    printed: dict[str, Printed]


def after(**predecessors: str) -> tuple[tuple[str, str, Relation, int], ...]:
    """Finish-to-start links from a table of immediate predecessors."""
    return tuple((tail, head, FS, 0) for head, tails in predecessors.items() for tail in tails)


def pairs(text: str) -> tuple[tuple[str, str, Relation, int], ...]:
    """Finish-to-start links from a list of arcs: "T01-T02"."""
    return tuple((*arc.split("-"), FS, 0) for arc in text.split())


def by_events(names: dict[str, int]) -> tuple[tuple[str, str, Relation, int], ...]:
    """Finish-to-start links of an activity-on-arrow network: "2-4" comes after everything that ends in event 2."""
    return tuple((tail, head, FS, 0) for tail in names for head in names if tail.split("-")[1] == head.split("-")[0])


TAYLOR_SHORT = {"1-2": 7, "1-3": 10, "2-4": 6, "3-4": 5, "3-5": 4, "4-5": 3, "5-6": 2}
TAYLOR_LONG = {
    "1-2": 8, "1-3": 10, "1-4": 9, "2-5": 6, "2-6": 4, "3-5": 5, "4-5": 0,
    "4-7": 7, "5-7": 12, "5-8": 15, "6-9": 18, "7-8": 4, "8-9": 7,
}  # fmt: skip

EXAMPLES = (
    Example(
        source=(
            "Bernard W. Taylor III, Introduction to Management Science, 12th ed., Pearson, 2016, solutions to chapter "
            "8, problem 5 (p. 8-1); the same network by events on p. 114 of the solutions to an earlier edition"
        ),
        durations=TAYLOR_SHORT,
        links=by_events(TAYLOR_SHORT),
        length=20,
        printed={
            "1-2": (0, 7, 2, 9, 2), "1-3": (0, 10, 0, 10, 0), "2-4": (7, 13, 9, 15, 2), "3-4": (10, 15, 10, 15, 0),
            "3-5": (10, 14, 14, 18, 4), "4-5": (15, 18, 15, 18, 0), "5-6": (18, 20, 18, 20, 0),
        },
    ),
    Example(
        source=(
            "Bernard W. Taylor III, Introduction to Management Science, solutions to chapter 8 (Project Management) of "
            "an earlier edition than the 12th, p. 115; activity 4-5 is a dummy"
        ),
        durations=TAYLOR_LONG,
        links=by_events(TAYLOR_LONG),
        length=38,
        printed={
            "1-2": (0, 8, 1, 9, 1), "1-3": (0, 10, 0, 10, 0), "1-4": (0, 9, 6, 15, 6), "2-5": (8, 14, 9, 15, 1),
            "2-6": (8, 12, 16, 20, 8), "3-5": (10, 15, 10, 15, 0), "4-5": (9, 9, 15, 15, 6), "4-7": (9, 16, 20, 27, 11),
            "5-7": (15, 27, 15, 27, 0), "5-8": (15, 30, 16, 31, 1), "6-9": (12, 30, 20, 38, 8),
            "7-8": (27, 31, 27, 31, 0), "8-9": (31, 38, 31, 38, 0),
        },
    ),
    Example(
        source=(
            "Teaching sheet on networks without author or year, Example 1, Tables 1 and 2 (studylib.net/doc/8378728): "
            "prototype to final assembly, hours"
        ),
        durations={"A": 6, "B": 2, "C": 2, "D": 3, "E": 4, "F": 2, "G": 1},
        links=after(B="A", C="A", D="B", F="C", E="DF", G="E"),
        length=16,
        printed={
            "A": (0, 6, 0, 6, 0), "B": (6, 8, 6, 8, 0), "D": (8, 11, 8, 11, 0), "E": (11, 15, 11, 15, 0),
            "G": (15, 16, 15, 16, 0), "C": (6, 8, 7, 9, 1), "F": (8, 10, 9, 11, 1),
        },
    ),
    Example(
        source=(
            "Jeffrey Kantor, CBE 40455 Process Operations, open courseware of the University of Notre Dame, notebook "
            "04.01 Critical Path Method (github.com/jckantor/CBE40455), example Stadium Construction, its printed "
            "report; after Gueret, Prins, Sevaux, Applications of Optimization with Xpress-MP, 2000, 7.1.1; read in "
            "full: tasks, arcs, report"
        ),
        durations={
            "T01": 2, "T02": 16, "T03": 9, "T04": 8, "T05": 10, "T06": 6, "T07": 2, "T08": 2, "T09": 9, "T10": 5,
            "T11": 3, "T12": 2, "T13": 1, "T14": 7, "T15": 4, "T16": 3, "T17": 9, "T18": 1,
        },
        links=pairs(
            "T01-T02 T02-T03 T02-T04 T02-T14 T03-T05 T04-T07 T04-T10 T04-T09 T04-T06 T04-T15 T05-T06 T06-T09 T06-T11 "
            "T06-T08 T07-T13 T08-T16 T09-T12 T11-T16 T12-T17 T14-T16 T14-T15 T17-T18"
        ),
        length=64,
        printed={
            "T01": (0, 2, 0, 2, 0), "T02": (2, 18, 2, 18, 0), "T03": (18, 27, 18, 27, 0), "T05": (27, 37, 27, 37, 0),
            "T06": (37, 43, 37, 43, 0), "T09": (43, 52, 43, 52, 0), "T12": (52, 54, 52, 54, 0),
            "T17": (54, 63, 54, 63, 0), "T18": (63, 64, 63, 64, 0), "T04": (18, 26, 29, 37, 11),
            "T07": (26, 28, 61, 63, 35), "T10": (26, 31, 59, 64, 33), "T14": (18, 25, 53, 60, 35),
            "T15": (26, 30, 60, 64, 34), "T13": (28, 29, 63, 64, 35), "T08": (43, 45, 59, 61, 16),
            "T11": (43, 46, 58, 61, 15), "T16": (46, 49, 61, 64, 15),
        },
    ),
)  # fmt: skip

EVENTS = Example(
    source=(
        "Lecture 2, PERT/CPM, slides without author or year, part (ii) of the worked example "
        "(slidepub.com/slideshow/lecture-2-pert-cpm-pdf): earliest and latest times of ten events, days"
    ),
    durations={
        "1-2": 4, "1-3": 1, "2-4": 1, "3-4": 1, "3-5": 6, "4-9": 5, "5-6": 4, "5-7": 8, "6-8": 1, "7-8": 2,
        "8-10": 5, "9-10": 7,
    },
    links=(),
    length=22,
    printed={},
)  # fmt: skip
EVENT_TIMES = {
    1: (0, 0), 2: (4, 9), 3: (1, 1), 4: (5, 10), 5: (7, 7), 6: (11, 16), 7: (15, 15), 8: (17, 17), 9: (10, 15),
    10: (22, 22),
}  # fmt: skip


def problem(durations: dict[str, int], links: tuple[tuple[str, str, Relation, int], ...]) -> Problem:
    ids = {name: number for number, name in enumerate(sorted(durations), start=1)}
    nodes = tuple(Node(ids[name], season=1, duration=days * DAY) for name, days in durations.items())
    arcs = tuple(
        Arc(number, ids[tail], ids[head], relation, Fixed(lag * DAY))
        for number, (tail, head, relation, lag) in enumerate(links, start=1)
    )
    return Problem(TODAY, nodes, arcs)


def due(of: Problem, instant: int) -> Problem:
    return replace(of, nodes=tuple(replace(node, deadline=instant) for node in of.nodes))


def day(instant: int) -> float:
    return (instant - TODAY) / DAY


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.source[:40])
def test_printed_dates_of_a_worked_example(example: Example) -> None:
    without_deadline = problem(example.durations, example.links)
    assert day(max(dates.ef for dates in schedule(without_deadline).dates.values())) == example.length

    dates = schedule(due(without_deadline, TODAY + example.length * DAY)).dates
    ids = {name: number for number, name in enumerate(sorted(example.durations), start=1)}
    found = {
        name: (day(d.es), day(d.ef), day(d.ls), day(d.lf), d.slack / DAY)
        for name, d in ((name, dates[ids[name]]) for name in example.printed)
    }
    assert found == example.printed
    critical = {name for name in found if dates[ids[name]].critical}
    assert critical == {name for name, row in example.printed.items() if row[4] == 0}


def test_printed_event_times_of_a_worked_example() -> None:
    events = {str(event): 0 for event in EVENT_TIMES}
    links = tuple(
        link
        for name in EVENTS.durations
        for link in ((name.split("-")[0], name, FS, 0), (name, name.split("-")[1], FS, 0))
    )
    durations = EVENTS.durations | events
    dates = schedule(due(problem(durations, links), TODAY + EVENTS.length * DAY)).dates
    ids = {name: number for number, name in enumerate(sorted(durations), start=1)}
    found = {event: (day(dates[ids[str(event)]].es), day(dates[ids[str(event)]].ls)) for event in EVENT_TIMES}
    assert found == EVENT_TIMES


# ---- networkx: longest paths in random networks


def random_network(rng: Random, maxima: float) -> Problem:
    count = rng.randint(2, 30)
    nodes = tuple(Node(i, season=1, duration=rng.randrange(0, 4 * DAY, 30)) for i in range(1, count + 1))
    arcs = []
    for head in range(2, count + 1):
        for tail in rng.sample(range(1, head), min(head - 1, rng.randint(0, 3))):
            lag = rng.randrange(-2 * DAY, 5 * DAY, 30)
            longest = Fixed(lag + rng.randrange(0, 6 * DAY, 30)) if rng.random() < maxima else None
            arcs.append(Arc(len(arcs) + 1, tail, head, rng.choice(list(Relation)), Fixed(lag), longest))
    return Problem(TODAY, nodes, tuple(arcs))


def constraint_graph(of: Problem, reverse: bool = False) -> nx.DiGraph:
    """An edge u -> v of weight w says: v starts no earlier than w after u. "start" stands for today.

    With `reverse` the weights are negated, so that shortest paths there are longest paths here."""
    duration = {node.id: node.duration for node in of.nodes}
    graph = nx.DiGraph()
    sign = -1 if reverse else 1

    def edge(tail: object, head: object, weight: int) -> None:
        known = graph.get_edge_data(tail, head)
        longest = weight if known is None else max(weight, known["weight"] * sign)
        graph.add_edge(tail, head, weight=longest * sign)

    for node in of.nodes:
        edge("start", node.id, 0)
    for arc in of.arcs:
        shift = (duration[arc.tail] if arc.relation in (FS, FF) else 0) - (
            duration[arc.head] if arc.relation in (FF, SF) else 0
        )
        assert isinstance(arc.minimum, Fixed)
        edge(arc.tail, arc.head, shift + arc.minimum.minutes)
        if isinstance(arc.maximum, Fixed):
            edge(arc.head, arc.tail, -shift - arc.maximum.minutes)
    return graph


@pytest.mark.parametrize("seed", range(60))
def test_project_length_is_networkx_longest_path(seed: int) -> None:
    of = random_network(Random(seed), maxima=0)
    graph = constraint_graph(of)
    for node in of.nodes:
        graph.add_edge(node.id, "end", weight=node.duration)
    longest = nx.dag_longest_path_length(graph)
    assert max(dates.ef for dates in schedule(of).dates.values()) - TODAY == longest


@pytest.mark.parametrize("seed", range(60))
def test_earliest_starts_are_networkx_longest_paths(seed: int) -> None:
    of = random_network(Random(1000 + seed), maxima=0)
    shortest = nx.single_source_bellman_ford_path_length(constraint_graph(of, reverse=True), "start")
    assert {job: dates.es - TODAY for job, dates in schedule(of).dates.items()} == {
        job: -length for job, length in shortest.items() if job != "start"
    }


def test_maximal_lags_are_networkx_longest_paths_or_contradictions() -> None:
    agreed, contradictory = 0, 0
    for seed in range(120):
        of = random_network(Random(2000 + seed), maxima=0.3)
        graph = constraint_graph(of, reverse=True)
        dates = schedule(of).dates
        if nx.negative_edge_cycle(graph):
            contradictory += 1
            assert any(d.contradiction for d in dates.values())
            continue
        agreed += 1
        shortest = nx.single_source_bellman_ford_path_length(graph, "start")
        assert not any(d.contradiction for d in dates.values())
        assert all(dates[node.id].es - TODAY == -shortest[node.id] for node in of.nodes)

        end = max(d.ef for d in dates.values())
        latest = schedule(due(of, end)).dates
        for node in of.nodes:
            graph.add_edge(node.id, "end", weight=-node.duration)
        left = nx.single_source_bellman_ford_path_length(graph.reverse(), "end")
        assert all(end - latest[node.id].ls == -left[node.id] for node in of.nodes)
    assert agreed > 20
    assert contradictory > 20
