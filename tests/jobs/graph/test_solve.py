"""Earliest and latest starts by the definitions, each with its own numbers (D1 to D3, D5, D6, D8, D9)."""

import pytest

from jobs.graph.data import FAR, NEG, Arc, DegreeDays, Fixed, Moment, Node, Rain, Relation
from tests.jobs.graph.days import DAY, TODAY, at, dates, heat, on, season


@pytest.mark.parametrize(
    ("relation", "start"),
    [
        (Relation.FINISH_START, 300 + 60),
        (Relation.START_START, 60),
        (Relation.FINISH_FINISH, 300 + 60 - 100),
        (Relation.START_FINISH, 0),
    ],
)
def test_each_relation_ties_its_own_ends(relation: Relation, start: int) -> None:
    """300 minutes, then 100 minutes, an hour between the ends. Start to finish asks for nothing after today here."""
    found = dates([Node(1, 1, 300), Node(2, 1, 100)], [Arc(1, 1, 2, relation, Fixed(60))])
    assert found[1].es == TODAY
    assert found[2].es == TODAY + start
    assert found[2].ef == TODAY + start + 100


def test_spray_at_most_14_days_before_a_planting_that_cannot_be_before_1_may_waits_for_17_april() -> None:
    """D1: a maximal lag delays the predecessor. Spraying takes 2 hours and ends on 17 April at 0:00."""
    spray, plant = Node(1, 1, 120), Node(2, 1, 300, season(on(5, 1)))
    found = dates([spray, plant], [Arc(1, 1, 2, minimum=Fixed(0), maximum=Fixed(14 * DAY))])
    assert found[2].es == on(5, 1)
    assert found[1].es == on(4, 17) - 120


def test_a_delay_through_maximal_lags_goes_on_through_a_chain_of_them() -> None:
    """Planting on 1 May, bed at most 2 days before it, spray at most 3 days before the bed, each of no duration."""
    nodes = [Node(1, 1, 0), Node(2, 1, 0), Node(3, 1, 0, season(on(5, 1)))]
    arcs = [Arc(1, 1, 2, minimum=Fixed(0), maximum=Fixed(3 * DAY)), Arc(2, 2, 3, maximum=Fixed(2 * DAY))]
    found = dates(nodes, arcs)
    assert [found[job].es for job in (1, 2, 3)] == [on(4, 26), on(4, 29), on(5, 1)]


def test_a_raised_predecessor_raises_its_other_successors_too() -> None:
    """The spray waits for the planting; what must come 5 days after the spray waits with it."""
    nodes = [Node(1, 1, 0), Node(2, 1, 0, season(on(5, 1))), Node(3, 1, 0)]
    arcs = [Arc(1, 1, 2, maximum=Fixed(14 * DAY)), Arc(2, 1, 3, minimum=Fixed(5 * DAY))]
    assert dates(nodes, arcs)[3].es == on(4, 22)


def test_a_successor_beyond_what_we_know_leaves_its_predecessor_known() -> None:
    """D2: the degree days never come within the curve, so the fence has no date. Planting keeps its own."""
    plant, fence = Node(1, 1, 60), Node(2, 1, 60)
    arc = Arc(1, 1, 2, minimum=DegreeDays(0, 99_999), maximum=Fixed(14 * DAY))
    found = dates([plant, fence], [arc], curve=heat([100] * 200))
    assert (found[2].es, found[2].ef) == (FAR, FAR)
    assert found[1].es == TODAY


def test_a_deadline_three_jobs_behind_moves_a_latest_start() -> None:
    """Due on 30 April, with 1, 2, 3 and 4 days of work and a day between each."""
    nodes = [Node(k, 1, k * DAY, deadline=on(4, 30) if k == 4 else None) for k in (1, 2, 3, 4)]
    arcs = [Arc(k, k, k + 1, minimum=Fixed(DAY)) for k in (1, 2, 3)]
    found = dates(nodes, arcs)
    assert [found[k].ls for k in (4, 3, 2, 1)] == [on(4, 26), on(4, 22), on(4, 19), on(4, 17)]
    assert found[1].lf == on(4, 18)
    assert found[1].slack == on(4, 17) - TODAY
    assert all(found[k].critical for k in (1, 2, 3, 4))


def test_without_a_deadline_there_is_no_latest_start_and_no_slack() -> None:
    found = dates([Node(1, 1, 60), Node(2, 1, 60)], [Arc(1, 1, 2, minimum=Fixed(0))])
    assert {(row.ls, row.lf, row.slack, row.critical) for row in found.values()} == {(FAR, FAR, FAR, False)}


def test_the_end_of_the_season_is_a_latest_start_without_any_deadline() -> None:
    assert dates([Node(1, 1, 100, season(to=on(6, 1)))])[1].ls == on(6, 1) - 100


def test_a_maximal_lag_gives_the_successor_a_latest_start() -> None:
    """The spray must start by 10 April, so the planting by 24 April and the two hours of spraying."""
    spray, plant = Node(1, 1, 120, deadline=on(4, 10) + 120), Node(2, 1, 60)
    assert dates([spray, plant], [Arc(1, 1, 2, maximum=Fixed(14 * DAY))])[2].ls == on(4, 24) + 120


def test_a_job_is_done_between_its_closures_and_in_one_piece() -> None:
    """Open on 2 April for an hour, on 5 April for two, and from 8 to 10 April: a job of 90 minutes."""
    spans = ((on(4, 2), on(4, 2) + 60), (on(4, 5), on(4, 5) + 120), (on(4, 8), on(4, 10)))
    before, job = Node(1, 1, 0, season(on(4, 5) + 31)), Node(2, 1, 90, spans, deadline=on(4, 8) + 30)
    alone = dates([job])[2]
    assert (alone.es, alone.ls) == (on(4, 5), on(4, 5) + 30)
    later = dates([before, job], [Arc(1, 1, 2, minimum=Fixed(0))])[2]
    assert later.es == on(4, 8)


def test_a_bound_into_a_closure_moves_a_latest_start_before_it() -> None:
    """The successor must start by 7 April; the job takes a day and 5 and 6 April are closed."""
    spans = ((on(4, 1), on(4, 5)), (on(4, 7), on(4, 30)))
    job, after = Node(1, 1, DAY, spans), Node(2, 1, 0, deadline=on(4, 7))
    assert dates([job, after], [Arc(1, 1, 2, minimum=Fixed(0))])[1].ls == on(4, 4)


def test_where_work_is_nowhere_allowed_there_is_neither_a_first_nor_a_last_start() -> None:
    found = dates([Node(1, 1, 60), Node(2, 1, 60, ())], [Arc(1, 1, 2, minimum=Fixed(0))])
    assert (found[2].es, found[2].ls, found[2].slack) == (FAR, NEG, NEG)
    assert (found[1].es, found[1].ls, found[1].slack) == (TODAY, NEG, NEG)


def test_a_season_that_is_over_leaves_a_latest_start_in_the_past() -> None:
    row = dates([Node(1, 1, 60, season(on(2, 1), on(3, 1)))])[1]
    assert (row.es, row.ls) == (FAR, on(3, 1) - 60)


def test_degree_days_move_both_passes_by_the_same_curve() -> None:
    """10.00 a day. Planted today, 45.00 are there when the fifth day after ends; due on 20 April, by the 14th."""
    plant, fence = Node(1, 1, 60), Node(2, 1, 60, deadline=on(4, 20) + 60)
    found = dates([plant, fence], [Arc(1, 1, 2, minimum=DegreeDays(0, 4500))], curve=heat([1000] * 365))
    assert found[2].es == on(4, 7)
    assert found[1].ls == on(4, 15) - 1 - 60


def test_a_maximum_in_degree_days_holds_the_predecessor_back() -> None:
    """10.00 a day, and the fence before 30.00 are exceeded. On 1 May at 0:00 the days since 28 April are three, so
    planted on 27 April or later; planted by 5 April, the fourth day after it ends with 9 April."""
    plant, fence = Node(1, 1, 0), Node(2, 1, 0, season(on(5, 1), on(5, 2)))
    arc = Arc(1, 1, 2, maximum=DegreeDays(0, 3000))
    found = dates([plant, fence], [arc], curve=heat([1000] * 365))
    assert found[1].es == on(4, 27)
    plant = Node(1, 1, 0, deadline=on(4, 5))
    assert dates([plant, Node(2, 1, 0)], [arc], curve=heat([1000] * 365))[2].ls == on(4, 10) - 1


def test_a_clock_that_rain_starts_has_no_date_until_rain_was_seen() -> None:
    spray, plant = Node(1, 1, 60, finished=Moment.at(at(80))), Node(2, 1, 60)
    arc = Arc(1, 1, 2, minimum=Rain(0, 50, 14 * DAY))
    dry, wet = heat([0] * 91), heat([0] * 85 + [60] + [0] * 5)
    assert dates([spray, plant], [arc], curve=dry)[2].es == FAR
    assert dates([spray, plant], [arc], curve=wet)[2].es == at(86 + 14)


def test_rain_not_yet_seen_does_not_make_the_spraying_too_late() -> None:
    spray, plant = Node(1, 1, 60), Node(2, 1, 60, deadline=on(6, 1) + 60)
    found = dates([spray, plant], [Arc(1, 1, 2, minimum=Rain(0, 50, 14 * DAY))], curve=heat([0] * 91))
    assert found[1].ls == on(5, 18) - 60


def test_an_observation_takes_the_place_of_the_prediction_in_both_passes() -> None:
    """D6: predicted for the fifth day, seen up on 3 April; from then on nothing counts back to the planting."""
    plant = Node(1, 1, 60, finished=Moment.at(on(3, 30)))
    fence = Node(2, 1, 60, deadline=on(4, 20))
    arc = Arc(1, 1, 2, Relation.FINISH_FINISH, DegreeDays(0, 4500), confirm=True, confirmed_at=on(4, 3))
    curve = heat([1000] * 365)
    assert dates([plant, fence], [arc], curve=curve)[2].es == on(4, 3) - 60
    unseen = Arc(1, 1, 2, Relation.FINISH_FINISH, DegreeDays(0, 4500), confirm=True)
    assert dates([plant, fence], [unseen], curve=curve)[2].es == on(4, 5) - 60
    assert dates([Node(1, 1, 60), fence], [arc], curve=curve)[1].ls == FAR


def test_an_observation_counts_only_where_the_link_asks_for_one() -> None:
    plant, fence = Node(1, 1, 60, finished=Moment.at(on(4, 1))), Node(2, 1, 60)
    arc = Arc(1, 1, 2, minimum=Fixed(10 * DAY), confirmed_at=on(4, 3))
    assert dates([plant, fence], [arc])[2].es == on(4, 11)
