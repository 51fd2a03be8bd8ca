"""The chain behind a date, and what is left when it is too late (D12, D13)."""

from __future__ import annotations

from dataclasses import replace

from jobs.graph import schedule
from jobs.graph.data import FAR, Arc, Branch, Cause, DegreeDays, Fixed, Moment, Node, Problem, Schedule, Why
from jobs.graph.explain import Finding, Way, chain, finding
from tests.jobs.graph.days import DAY, TODAY, at, heat, problem, season


def found(asked: Problem, job: int, now: int = TODAY) -> Finding | None:
    return finding(schedule(asked), asked, job, now)


def test_a_chain_leads_from_its_source_to_the_job() -> None:
    """Done, 20 days, spray, 5 days, plant; the bed between is not what holds."""
    nodes = [Node(1, 1, 0, finished=Moment.at(at(80))), Node(2, 1, 0), Node(3, 1, 0), Node(4, 1, 0)]
    arcs = [
        Arc(10, 1, 3, minimum=Fixed(20 * DAY)),
        Arc(11, 3, 4, minimum=Fixed(5 * DAY)),
        Arc(12, 2, 4, minimum=Fixed(DAY)),
    ]
    asked = problem(nodes, arcs)
    assert chain(schedule(asked), asked, 4) == [10, 11]
    assert chain(schedule(asked), asked, 2) == []


def test_a_chain_runs_backward_through_a_maximal_lag() -> None:
    asked = problem([Node(1, 1, 0), Node(2, 1, 0, season(at(140)))], [Arc(10, 1, 2, maximum=Fixed(14 * DAY))])
    assert chain(schedule(asked), asked, 1) == [10]


def test_a_circle_of_reasons_would_end_the_chain() -> None:
    """No schedule has one; a chain must end all the same."""
    asked = problem([Node(1, 1, 0), Node(2, 1, 0)], [Arc(7, 1, 2, minimum=Fixed(0))])
    plan = schedule(asked)
    circle = Schedule({job: replace(row, why_es=Why(Cause.ARC, 7)) for job, row in plan.dates.items()}, {})
    assert chain(circle, asked, 1) == [7]


def test_what_is_in_time_or_has_no_deadline_has_no_finding() -> None:
    asked = problem([Node(1, 1, 60, deadline=at(95)), Node(2, 1, 60)])
    assert found(asked, 1) is None
    assert found(asked, 2, at(500)) is None
    assert found(asked, 1, at(95) - 60) is None
    assert found(asked, 1, at(95) - 59) is not None


def test_the_broken_link_leaves_the_last_fact_and_the_chain_goes_on_to_the_deadline() -> None:
    """Killed on day 80, 14 days at least, till, a day, plant by day 92: the tilling is 3 days short."""
    nodes = [Node(1, 1, 0, finished=Moment.at(at(80))), Node(2, 1, 0), Node(3, 1, 0, deadline=at(92))]
    arcs = [Arc(10, 1, 2, minimum=Fixed(14 * DAY)), Arc(11, 2, 3, minimum=Fixed(DAY))]
    row = found(problem(nodes, arcs), 2)
    assert row == Finding(2, (1, 2, 3), (10, 11), 3 * DAY, 10, ())


def test_where_the_clock_is_the_source_the_job_was_not_begun_in_time() -> None:
    row = found(problem([Node(1, 1, 0, deadline=at(88)), Node(2, 1, 0)], [Arc(10, 2, 1, minimum=Fixed(0))]), 2)
    assert row == Finding(2, (2, 1), (10,), 2 * DAY, None, ())


def test_now_counts_beside_today() -> None:
    row = found(problem([Node(1, 1, 0, deadline=at(92))]), 1, at(92, 75))
    assert row is not None
    assert (row.short_by, row.chain, row.broken) == (75, (), None)


def test_what_is_under_way_is_a_fact_itself_and_breaks_the_link_that_leaves_it() -> None:
    nodes = [Node(1, 1, 3 * DAY, started=Moment.at(at(89))), Node(2, 1, 0, deadline=at(91))]
    row = found(problem(nodes, [Arc(10, 1, 2, minimum=Fixed(0))]), 1, at(89))
    assert row == Finding(1, (1, 2), (10,), DAY, 10, ())


def test_a_wait_of_common_practice_on_the_chain_is_a_way_out_with_the_minutes_it_would_have_to_give() -> None:
    """A soft minimum of 14 days, and behind it a soft maximum after a job that had to be done by day 85."""
    nodes = [Node(1, 1, 0, finished=Moment.at(at(80))), Node(2, 1, 0), Node(3, 1, 0, finished=Moment.at(at(81)))]
    arcs = [
        Arc(10, 1, 2, minimum=Fixed(14 * DAY), soft=True),
        Arc(11, 3, 2, maximum=Fixed(9 * DAY), soft=True),
        Arc(12, 1, 2, minimum=Fixed(2 * DAY), soft=True),
    ]
    row = found(problem(nodes, arcs), 2)
    assert row is not None
    assert row.short_by == 4 * DAY
    assert row.ways_out == (Way("lag", 10, 4 * DAY), Way("lag", 11, 4 * DAY))


def test_without_any_date_no_number_of_minutes_would_do() -> None:
    nodes = [Node(1, 1, 0), Node(2, 1, 0, deadline=at(99))]
    asked = problem(nodes, [Arc(10, 1, 2, minimum=DegreeDays(0, 99), soft=True)], curve=heat([0] * 200))
    row = found(asked, 2)
    assert row is not None
    assert (row.short_by, row.ways_out) == (FAR, (Way("lag", 10, None),))


def test_open_branches_still_in_time_and_closed_ones_an_outcome_could_open_are_ways_out() -> None:
    """The burn has lapsed, the mowing not; by the check the replanting could still open, and beans no longer."""
    branches = [
        Branch(10, 1, "clear", 0),
        Branch(11, 1, "clear", 1),
        Branch(12, 1, "clear", 2),
        Branch(20, 1, opened_by=5, outcomes=frozenset({"poor"})),
        Branch(21, 1, opened_by=5, outcomes=frozenset({"lost"})),
        Branch(30, 2, "clear"),
        Branch(31, 1),
    ]
    nodes = [
        Node(1, 1, 60, branch=10, deadline=at(70)),
        Node(2, 1, 60, branch=11, deadline=at(170)),
        Node(3, 1, 60, branch=12, deadline=at(70)),
        Node(5, 1, 60),
        Node(6, 1, 60, branch=20, deadline=at(170)),
        Node(7, 1, 60, branch=21, deadline=at(80)),
        Node(8, 2, 60, branch=30),
        Node(9, 1, 60, deadline=at(60)),
    ]
    asked = problem(nodes, [Arc(90, 1, 5)], branches)
    row = found(asked, 1)
    assert row is not None
    assert row.ways_out == (Way("outcome", 20),), "the mowing is the reference by now"
    late = found(asked, 1, at(120))
    assert late is not None
    assert late.ways_out == (Way("outcome", 20),)
    gone = found(asked, 1, at(200))
    assert gone is not None
    assert gone.ways_out == ()


def test_a_job_of_a_branch_that_was_begun_is_shown_the_open_branch_of_its_season() -> None:
    """Begun ways stay the reference however late; the other group's second way is open and in time."""
    branches = [
        Branch(10, 1, "clear", 0), Branch(20, 1, "seed", 0), Branch(21, 1, "seed", 1), Branch(22, 1, "seed", 2),
    ]  # fmt: skip
    nodes = [
        Node(1, 1, 60, branch=10, started=Moment.at(at(60)), deadline=at(70)),
        Node(2, 1, 0, branch=20),
        Node(3, 1, 0, branch=21, deadline=at(170)),
        Node(4, 1, 0, branch=22, deadline=at(70)),
        Node(5, 1, 0, branch=10, deadline=at(70)),
    ]
    row = found(problem(nodes, [Arc(90, 1, 2)], branches), 5)
    assert row is not None
    assert row.ways_out == (Way("branch", 21),)
    apart = found(problem(nodes, [], branches), 5)
    assert apart is not None
    assert apart.ways_out == (), "nothing ties the seeding to the clearing"


def test_a_check_that_is_done_opens_nothing_any_more() -> None:
    nodes = [Node(1, 1, 60, finished=Moment.at(at(80))), Node(2, 1, 60, branch=10), Node(3, 1, 60, deadline=at(60))]
    row = found(problem(nodes, [], [Branch(10, 1, opened_by=1, outcomes=frozenset({"poor"}))]), 3)
    assert row is not None
    assert row.ways_out == ()
