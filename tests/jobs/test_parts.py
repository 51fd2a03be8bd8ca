"""Each part of a job keeps its own clocks (D7)."""

from jobs.facts import Facts, JobFacts
from jobs.folding import Part
from jobs.graph.data import Arc, Curve, DegreeDays, Fixed, Moment, Node, Problem, Rain, Relation
from jobs.parts import PartClocks, part_clocks

DAY = 1440
PLANT, FENCE, LOOK = 1, 2, 3
TEN_A_DAY = Curve([k * DAY for k in range(21)], [1000] * 20, ["observed"] * 20)
PARTS = (Part(11, Moment.at(2 * DAY + 600), 2.5), Part(12, Moment(4 * DAY, 5 * DAY), 3.9))


def clocks(*arcs: Arc, curves: dict[int, Curve] | None = None) -> tuple[PartClocks, ...]:
    nodes = tuple(Node(pk, 1, 60) for pk in (PLANT, FENCE, LOOK))
    problem = Problem(0, nodes, arcs, curves={1: TEN_A_DAY} if curves is None else curves)
    facts = Facts(problem, {PLANT: JobFacts(PLANT, parts=PARTS)}, DAY)
    return part_clocks(facts, PLANT, [arc for arc in arcs if arc.tail == PLANT])


def test_days_are_counted_from_each_part_and_a_part_of_a_day_counts_late() -> None:
    told = clocks(Arc(7, PLANT, FENCE, minimum=Fixed(3 * DAY)))
    assert [(part.acres, part.at, part.over) for part in told] == [
        (2.5, 2 * DAY + 600, ((7, 5 * DAY + 600),)),
        (3.9, 5 * DAY, ((7, 8 * DAY),)),
    ]


def test_degree_days_are_counted_from_the_day_after_each_part() -> None:
    """50 at 10 a day: days 3 to 7 after day 2, days 6 to 10 after day 5."""
    told = clocks(Arc(7, PLANT, LOOK, minimum=DegreeDays(1, 5000)))
    assert [part.over for part in told] == [((7, 8 * DAY),), ((7, 11 * DAY),)]


def test_what_is_not_known_or_counts_from_no_end_has_no_clock() -> None:
    waits = (
        Arc(7, PLANT, LOOK, minimum=DegreeDays(1, 900_000)),
        Arc(8, PLANT, LOOK, minimum=DegreeDays(2, 5000)),
        Arc(9, PLANT, FENCE, minimum=Rain(1, 100)),
        Arc(10, PLANT, FENCE, minimum=Fixed(0)),
        Arc(11, PLANT, FENCE, Relation.START_START, Fixed(DAY)),
        Arc(12, FENCE, LOOK, minimum=Fixed(DAY)),
    )
    assert [part.over for part in clocks(*waits)] == [(), ()]
