"""What reports make of jobs and links (D7)."""

import pytest

from jobs.graph.cycles import CycleError
from jobs.graph.data import FAR, NEG, Arc, Cause, Fixed, Moment, Node, Relation, Skip
from jobs.graph.network import Role, reported_ends, role_of
from tests.jobs.graph.days import DAY, TODAY, at, dates, on, season

FS, SS, FF, SF = Relation.FINISH_START, Relation.START_START, Relation.FINISH_FINISH, Relation.START_FINISH


def test_done_goes_before_skipped_skipped_before_called_off_called_off_before_under_way() -> None:
    moment = Moment.at(TODAY)
    everything = Node(1, 1, 60, started=moment, finished=moment, skipped=Skip.SATISFIED, called_off=True)
    assert role_of(everything) is Role.DONE
    assert role_of(Node(1, 1, 60, started=moment, skipped=Skip.SATISFIED, called_off=True)) is Role.SATISFIED
    assert role_of(Node(1, 1, 60, started=moment, skipped=Skip.PASSED_OVER)) is Role.RELAY
    assert role_of(Node(1, 1, 60, started=moment, called_off=True)) is Role.RELAY
    assert role_of(Node(1, 1, 60, started=moment)) is Role.UNDER_WAY
    assert role_of(Node(1, 1, 60)) is Role.OPEN


def test_a_job_that_nobody_reported_has_no_reported_ends() -> None:
    with pytest.raises(ValueError, match="Job 7 was not reported"):
        reported_ends(Node(7, 1, 60), Role.OPEN, TODAY)


def test_a_job_done_stands_where_it_was_reported_and_bounds_what_follows() -> None:
    """Done without a start: it began its duration before. Today does not clamp it, closures do not move it."""
    done, after = Node(1, 1, 120, (), finished=Moment.at(at(80))), Node(2, 1, 60)
    found = dates([done, after], [Arc(1, 1, 2, minimum=Fixed(15 * DAY))])
    assert (found[1].es, found[1].ef, found[1].ls, found[1].slack) == (at(80) - 120, at(80), at(80) - 120, 0)
    assert (found[1].why_es.cause, found[1].why_ls.cause, found[1].critical) == (Cause.FACT, Cause.FACT, False)
    assert found[2].es == at(95)


def test_a_day_without_an_hour_counts_late_for_minima_and_early_for_maxima() -> None:
    """Sprayed some time on day 85: 10 days at least run from its end, 14 days at most from its beginning."""
    spray = Node(1, 1, 0, finished=Moment(at(85), at(86)))
    plant = Node(2, 1, 60)
    row = dates([spray, plant], [Arc(1, 1, 2, minimum=Fixed(10 * DAY), maximum=Fixed(14 * DAY))])[2]
    assert (row.es, row.ls) == (at(96), at(99))


def test_a_job_under_way_keeps_its_start_and_is_done_no_sooner_than_today() -> None:
    long_ago, after = Node(1, 1, 120, started=Moment.at(at(80))), Node(2, 1, 60)
    found = dates([long_ago, after], [Arc(1, 1, 2, minimum=Fixed(DAY))])
    assert (found[1].es, found[1].ef) == (at(80), TODAY)
    assert found[2].es == TODAY + DAY
    soon = dates([Node(1, 1, 3 * DAY, started=Moment.at(at(89)))])[1]
    assert soon.ef == at(92)


def test_partly_done_is_under_way_with_the_duration_of_its_rest() -> None:
    partly, after = Node(1, 1, 600, started=Moment.at(at(80)), rest=200), Node(2, 1, 60)
    found = dates([partly, after], [Arc(1, 1, 2, minimum=Fixed(0))])
    assert (found[1].es, found[1].ef, found[2].es) == (at(80), TODAY + 200, TODAY + 200)


def test_what_is_under_way_shows_how_late_it_is_by_its_successors_and_its_own_deadline() -> None:
    """Begun on day 85, due before a job that must start by day 88: two days left would not do, and today is day 90."""
    under_way = Node(1, 1, DAY, started=Moment.at(at(85)))
    after = Node(2, 1, 60, deadline=at(88) + 60)
    row = dates([under_way, after], [Arc(1, 1, 2, minimum=Fixed(0))])[1]
    assert (row.es, row.ls, row.slack) == (at(85), at(83), -2 * DAY)
    assert row.why_ls.arc == 1
    own = dates([Node(1, 1, DAY, started=Moment.at(at(85)), deadline=at(89))])[1]
    assert (own.ls, own.lf, own.why_ls.cause) == (at(84), at(89), Cause.DEADLINE)
    assert dates([Node(1, 1, DAY, started=Moment.at(at(85)))])[1].ls == FAR


def test_through_a_maximal_lag_what_is_under_way_counts_as_begun_when_it_was() -> None:
    under_way, after = Node(1, 1, DAY, started=Moment.at(at(85))), Node(2, 1, 60)
    assert dates([under_way, after], [Arc(1, 1, 2, SS, maximum=Fixed(10 * DAY))])[2].ls == at(95)


@pytest.mark.parametrize(
    "head", [Node(2, 1, 60, finished=Moment.at(at(80))), Node(2, 1, 60, started=Moment.at(at(80)))]
)
def test_a_successor_reported_before_its_predecessor_bounds_it_in_no_direction(head: Node) -> None:
    arc = Arc(1, 1, 2, FF, Fixed(0), Fixed(DAY))
    found = dates([Node(1, 1, 60), head], [arc])
    assert (found[1].es, found[1].ls) == (TODAY, FAR)
    assert found[2].out_of_order == ()


def test_skipped_and_satisfied_meets_the_links_of_its_successors_at_that_instant_without_a_wait() -> None:
    """The 10 days and the maximum are gone, also where an observation was asked for."""
    skipped = Node(1, 1, 600, skipped=Skip.SATISFIED, skipped_at=at(95))
    arcs = [
        Arc(1, 1, 2, minimum=Fixed(10 * DAY), maximum=Fixed(12 * DAY)),
        Arc(2, 1, 3, minimum=Fixed(10 * DAY), confirm=True, confirmed_at=at(120)),
        Arc(3, 1, 4, maximum=Fixed(DAY)),
    ]
    found = dates([skipped, *(Node(k, 1, 60) for k in (2, 3, 4))], arcs)
    assert [found[k].es for k in (1, 2, 3, 4)] == [at(95), at(95), at(95), TODAY]
    assert {found[k].ls for k in (2, 3, 4)} == {FAR}


def test_skipped_at_nobody_knows_when_counts_as_today() -> None:
    found = dates([Node(1, 1, 600, skipped=Skip.SATISFIED), Node(2, 1, 60)], [Arc(1, 1, 2, minimum=Fixed(DAY))])
    assert (found[1].es, found[2].es) == (TODAY, TODAY)


@pytest.mark.parametrize(
    "gone", [Node(2, 1, 600, (), 0, skipped=Skip.PASSED_OVER), Node(2, 1, 600, (), 0, called_off=True)]
)
def test_a_job_passed_over_or_called_off_hands_its_predecessors_waits_on(gone: Node) -> None:
    """5 days, the job that is gone, 7 days: 5 remain. Its deadline and closures are gone, its maxima both ways too."""
    first, last = Node(1, 1, 0), Node(3, 1, 0, deadline=at(120))
    arcs = [
        Arc(1, 1, 2, minimum=Fixed(5 * DAY), maximum=Fixed(DAY)),
        Arc(2, 2, 3, minimum=Fixed(7 * DAY), maximum=Fixed(8 * DAY)),
    ]
    found = dates([first, gone, last], arcs)
    assert [found[k].es for k in (1, 2, 3)] == [at(90), at(95), at(95)]
    assert [found[k].ls for k in (1, 2, 3)] == [at(115), at(120), at(120)]
    assert not found[2].critical


def test_a_relay_with_nothing_before_it_asks_for_nothing() -> None:
    found = dates([Node(1, 1, 60, called_off=True), Node(2, 1, 60)], [Arc(1, 1, 2, minimum=Fixed(DAY))])
    assert found[2].es == TODAY
    assert (found[1].es, found[1].ef, found[1].why_es.cause, found[1].ls) == (NEG, NEG, Cause.NONE, FAR)


@pytest.mark.parametrize(
    ("arc", "kept"),
    [
        (Arc(1, 1, 2, FS, Fixed(3 * DAY)), True),
        (Arc(1, 1, 2, FS, Fixed(3 * DAY + 1)), False),
        (Arc(1, 1, 2, FS, maximum=Fixed(3 * DAY)), True),
        (Arc(1, 1, 2, FS, maximum=Fixed(3 * DAY - 1)), False),
        (Arc(1, 1, 2, SS, Fixed(4 * DAY)), True),
        (Arc(1, 1, 2, FF, Fixed(5 * DAY + 1)), False),
        (Arc(1, 1, 2, SF, Fixed(6 * DAY)), True),
        (Arc(1, 1, 2, FS, Fixed(DAY), confirm=True, confirmed_at=at(83)), True),
        (Arc(1, 1, 2, FS, Fixed(DAY), confirm=True, confirmed_at=at(84)), False),
        (Arc(1, 1, 2, FS), True),
    ],
)
def test_a_link_between_two_reports_binds_nothing_and_is_noted_where_it_was_not_kept(arc: Arc, kept: bool) -> None:
    """Day 79 to 80, then day 83 to 85."""
    first = Node(1, 1, DAY, started=Moment.at(at(79)), finished=Moment.at(at(80)))
    then = Node(2, 1, 2 * DAY, started=Moment.at(at(83)), finished=Moment.at(at(85)))
    found = dates([first, then], [arc])
    assert found[2].out_of_order == (() if kept else (1,))
    assert (found[1].out_of_order, found[1].es, found[2].es) == ((), at(79), at(83))


def test_the_finish_of_what_is_under_way_is_not_yet_too_soon_but_may_be_too_late() -> None:
    """Begun on day 80, not finished on day 90: a minimum of 20 days may still be kept, a maximum of 5 is not."""
    first = Node(1, 1, 0, finished=Moment.at(at(80)))
    under_way = Node(2, 1, DAY, started=Moment.at(at(80)))
    assert dates([first, under_way], [Arc(1, 1, 2, FF, Fixed(20 * DAY))])[2].out_of_order == ()
    assert dates([first, under_way], [Arc(1, 1, 2, FF, maximum=Fixed(5 * DAY))])[2].out_of_order == (1,)


def test_what_was_skipped_was_not_done_out_of_order() -> None:
    """Planted on day 80; that the tillage was skipped is only said on day 88."""
    till = Node(1, 1, 60, skipped=Skip.SATISFIED, skipped_at=at(88))
    plant = Node(2, 1, 60, finished=Moment.at(at(80)))
    assert dates([till, plant], [Arc(1, 1, 2, minimum=Fixed(0))])[2].out_of_order == ()


def test_a_circle_is_refused_with_its_jobs() -> None:
    arcs = [Arc(1, 4, 9, minimum=Fixed(0)), Arc(2, 9, 6, minimum=Fixed(0)), Arc(3, 6, 4, minimum=Fixed(0))]
    with pytest.raises(CycleError) as caught:
        dates([Node(4, 1, 0), Node(6, 1, 0), Node(9, 1, 0)], arcs)
    assert caught.value.jobs == (4, 9, 6)


def test_a_start_that_lies_ahead_is_not_clamped_by_today() -> None:
    assert dates([Node(1, 1, 60, season(on(6, 1)), started=Moment.at(at(95)))])[1].es == at(95)
