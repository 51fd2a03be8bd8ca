"""Copies: what each branch says of its own jobs, and what all of them say of a shared one (D10 to D12, D18)."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.graph import schedule
from jobs.graph.data import FAR, NEG, Arc, Branch, BranchState, Cause, Fixed, Moment, Node, Problem, Skip, Why
from tests.jobs.graph.days import DAY, TODAY, at, dates, on, plan, season
from tests.jobs.graph.random_problems import parts, problems

BURN, MOW = Branch(10, 1, "clear", 0), Branch(11, 1, "clear", 1)
ZERO = Fixed(0)
POOR, GOOD = frozenset({"poor"}), frozenset({"good"})


def test_the_first_branch_in_the_managers_order_dates_the_trunk_and_the_other_its_own_jobs() -> None:
    """Burning takes 2 days, mowing 5. The planting follows the burn; mowing is dated as if it were done instead."""
    nodes = [Node(1, 1, DAY), Node(2, 1, 2 * DAY, branch=10), Node(3, 1, 5 * DAY, branch=11), Node(4, 1, DAY)]
    arcs = [
        Arc(1, 1, 2, minimum=ZERO),
        Arc(2, 1, 3, minimum=ZERO),
        Arc(3, 2, 4, minimum=ZERO),
        Arc(4, 3, 4, minimum=ZERO),
    ]
    found = dates(nodes, arcs, [BURN, MOW])
    assert [found[k].es for k in (1, 2, 3, 4)] == [at(90), at(91), at(91), at(93)]
    assert [found[k].on_reference for k in (1, 2, 3, 4)] == [True, True, False, True]
    other_order = [replace(BURN, order=5), MOW]
    assert dates(nodes, arcs, other_order)[4].es == at(96)


def test_a_shared_job_is_not_too_late_as_long_as_one_branch_is_left() -> None:
    """Due by day 100: before the burn the mapping may start on day 95, before the mowing on day 91."""
    nodes = [
        Node(1, 1, DAY),
        Node(2, 1, 2 * DAY, branch=10),
        Node(3, 1, 6 * DAY, branch=11),
        Node(4, 1, 2 * DAY, deadline=at(100)),
    ]
    arcs = [
        Arc(1, 1, 2, minimum=ZERO),
        Arc(2, 1, 3, minimum=ZERO),
        Arc(3, 2, 4, minimum=ZERO),
        Arc(4, 3, 4, minimum=ZERO),
    ]
    found = dates(nodes, arcs, [replace(BURN, order=1), replace(MOW, order=0)])
    assert (found[1].ls, found[1].last_chance) == (at(91), at(95))
    assert (found[2].ls, found[2].last_chance) == (at(96), at(96))
    assert (found[4].ls, found[4].last_chance) == (at(98), at(98))


def test_the_reference_passes_over_a_branch_in_which_a_job_has_lapsed() -> None:
    nodes = [Node(1, 1, 60, season(to=on(3, 1)), branch=10), Node(2, 1, 60, branch=11)]
    found = plan(nodes, [], [BURN, MOW])
    assert [found.dates[k].on_reference for k in (1, 2)] == [False, True]
    assert found.branches == {10: BranchState.OPEN, 11: BranchState.OPEN}


def test_the_reference_passes_over_a_branch_that_makes_a_successor_too_late() -> None:
    """Mowing takes 20 days and the planting is due on day 100; burning takes one."""
    nodes = [Node(1, 1, 20 * DAY, branch=11), Node(2, 1, DAY, branch=10), Node(3, 1, DAY, deadline=at(100))]
    arcs = [Arc(1, 1, 3, minimum=ZERO), Arc(2, 2, 3, minimum=ZERO)]
    found = dates(nodes, arcs, [replace(BURN, order=2), MOW])
    assert [found[k].on_reference for k in (1, 2, 3)] == [False, True, True]
    assert (found[1].slack, found[3].slack) == (-11 * DAY, 8 * DAY)


def test_where_every_branch_has_lapsed_the_first_stays_the_reference() -> None:
    over = season(to=on(3, 1))
    found = dates([Node(1, 1, 60, over, branch=10), Node(2, 1, 60, over, branch=11)], [], [BURN, MOW])
    assert [found[k].on_reference for k in (1, 2)] == [True, False]


def test_what_is_begun_is_the_reference_whatever_the_order_and_its_paused_sibling_has_its_own_copy() -> None:
    nodes = [Node(1, 1, DAY, branch=10), Node(2, 1, DAY, branch=11, started=Moment.at(TODAY)), Node(3, 1, DAY)]
    arcs = [Arc(1, 1, 3, minimum=Fixed(9 * DAY)), Arc(2, 2, 3, minimum=ZERO)]
    found = plan(nodes, arcs, [BURN, MOW])
    assert found.branches == {10: BranchState.PAUSED, 11: BranchState.CHOSEN}
    assert [found.dates[k].on_reference for k in (1, 2, 3)] == [False, True, True]
    assert found.dates[3].es == at(91)
    assert found.dates[1].es == TODAY


def test_jobs_of_a_dead_branch_have_no_dates_and_bind_nobody() -> None:
    nodes = [Node(1, 1, DAY, branch=10, finished=Moment.at(at(85))), Node(2, 1, DAY, branch=11), Node(3, 1, DAY)]
    found = dates(nodes, [Arc(1, 2, 3, minimum=Fixed(50 * DAY))], [BURN, MOW])
    assert found[3].es == TODAY
    dead = found[2]
    assert {dead.es, dead.ef, dead.ls, dead.lf, dead.slack, dead.last_chance} == {FAR}
    assert (dead.why_es, dead.why_ls, dead.on_reference, dead.critical) == (
        Why(Cause.NONE),
        Why(Cause.NONE),
        False,
        False,
    )


def test_what_was_done_in_a_branch_called_off_still_bounds_what_follows() -> None:
    """Sprayed on day 85, then the branch was called off. The plant-back wait of 20 days runs all the same."""
    nodes = [Node(1, 1, 60, branch=10, finished=Moment.at(at(85))), Node(2, 1, 60, branch=10), Node(3, 1, 60)]
    arcs = [Arc(1, 1, 3, minimum=Fixed(20 * DAY)), Arc(2, 2, 3, minimum=ZERO)]
    found = dates(nodes, arcs, [Branch(10, 1, called_off=True)])
    assert [found[k].es for k in (1, 2, 3)] == [at(85, -60), FAR, at(105)]


def test_siblings_done_both_are_marked() -> None:
    done = Moment.at(at(85))
    found = dates(
        [Node(1, 1, 60, branch=10, finished=done), Node(2, 1, 60, branch=11, finished=done), Node(3, 1, 60)],
        [],
        [BURN, MOW],
    )
    assert [found[k].conflict for k in (1, 2, 3)] == [True, True, False]


def test_look_by_is_the_latest_start_that_leaves_the_replanting_possible_and_the_trunk_is_not_tightened() -> None:
    """Count the stand (2 hours), and if it is poor kill it, wait 7 days and replant by 20 May at 0:00 within an hour.
    Nothing else bounds the count. Kill and replant are dated from the count on."""
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    nodes = [
        Node(1, 1, 120, season(on(4, 20))),
        Node(2, 1, 180, branch=10),
        Node(3, 1, 60, season(to=on(5, 20)), branch=10),
    ]
    found = plan(nodes, [Arc(1, 2, 3, minimum=Fixed(7 * DAY))], [replant])
    assert found.branches == {10: BranchState.NOT_CALLED_FOR}
    count, kill, plant = (found.dates[k] for k in (1, 2, 3))
    assert (count.ls, count.slack, count.why_ls) == (FAR, FAR, Why(Cause.NONE))
    assert count.look_by == on(5, 13) - 60 - 180 - 120
    assert (kill.es, kill.why_es) == (on(4, 20) + 120, Why(Cause.ARC))
    assert (plant.es, plant.why_es) == (on(4, 27) + 120 + 180, Why(Cause.ARC, 1))
    assert (kill.on_reference, plant.on_reference) == (False, False)
    assert (kill.look_by, plant.look_by) == (None, None)


def test_of_several_branches_not_called_for_the_first_that_closes_sets_look_by() -> None:
    beans = Branch(10, 1, opened_by=1, outcomes=POOR)
    cover = Branch(11, 1, opened_by=1, outcomes=frozenset({"lost"}))
    nodes = [
        Node(1, 1, 0), Node(2, 1, 0, branch=10, deadline=on(6, 10)), Node(3, 1, 0, branch=11, deadline=on(8, 20)),
    ]  # fmt: skip
    found = dates(nodes, [], [beans, cover])
    assert found[1].look_by == on(6, 10)
    assert found[1].last_chance == FAR


def test_the_expected_branch_is_in_the_reference_and_out_of_the_copy_of_another_outcome() -> None:
    """Good: top-dress by 1 May. Poor: replant. Job 4 follows either and is dated with the good stand."""
    good = Branch(10, 1, opened_by=1, outcomes=GOOD, expected=True)
    poor = Branch(11, 1, opened_by=1, outcomes=POOR)
    nodes = [Node(1, 1, 0), Node(2, 1, 0, branch=10, deadline=on(5, 1)), Node(3, 1, 0, branch=11), Node(4, 1, 0)]
    arcs = [
        Arc(1, 1, 2, minimum=ZERO),
        Arc(2, 2, 4, minimum=Fixed(5 * DAY)),
        Arc(3, 3, 4, minimum=Fixed(9 * DAY)),
    ]
    found = plan(nodes, arcs, [good, poor])
    assert found.branches == {10: BranchState.OPEN, 11: BranchState.NOT_CALLED_FOR}
    assert found.dates[4].es == at(95)
    assert (found.dates[1].ls, found.dates[1].last_chance) == (on(5, 1), FAR)
    assert found.dates[1].look_by is None, "nothing closes the poor branch"
    assert [found.dates[k].on_reference for k in (2, 3)] == [True, False]


def test_an_outcome_that_two_branches_share_leaves_both_in_the_copy() -> None:
    """Uneven opens the replanting as well as what is expected: the fence, 3 days after the check, comes before it."""
    fence = Branch(10, 1, opened_by=1, outcomes=frozenset({"good", "uneven"}), expected=True)
    replant = Branch(11, 1, opened_by=1, outcomes=frozenset({"uneven"}))
    nodes = [Node(1, 1, 0), Node(2, 1, 0, branch=10), Node(3, 1, 0, branch=11)]
    arcs = [Arc(1, 1, 2, minimum=Fixed(3 * DAY)), Arc(2, 2, 3, minimum=ZERO)]
    assert dates(nodes, arcs, [fence, replant])[3].es == at(93)


def test_after_the_outcome_its_branch_is_in_the_reference() -> None:
    check = Node(1, 1, 60, finished=Moment.at(at(88)), outcome="poor")
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    found = plan([check, Node(2, 1, 60, branch=10)], [], [replant])
    assert found.branches == {10: BranchState.OPEN}
    assert (found.dates[2].on_reference, found.dates[1].look_by) == (True, None)


@pytest.mark.parametrize(("begun", "opens"), [(Moment.at(at(85)), TODAY), (None, TODAY + 60)])
def test_a_check_under_way_can_be_over_today_and_still_has_a_look_by(begun: Moment | None, opens: int) -> None:
    """The replanting may begin when the check is over: today at the soonest, or an hour after a start today."""
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    found = dates([Node(1, 1, 60, started=begun), Node(2, 1, 0, branch=10, deadline=at(95))], [], [replant])
    assert found[2].es == opens
    assert found[1].look_by == at(95) - (60 if begun is None else 5 * DAY)


def test_a_check_done_without_a_word_opens_nothing_and_is_not_to_be_done_again() -> None:
    check = Node(1, 1, 60, finished=Moment.at(at(88)))
    found = plan([check, Node(2, 1, 0, branch=10, deadline=at(95))], [], [Branch(10, 1, opened_by=1, outcomes=POOR)])
    assert found.branches == {10: BranchState.NOT_CALLED_FOR}
    assert (found.dates[1].look_by, found.dates[2].es) == (None, TODAY)


def test_a_check_behind_the_very_job_it_would_call_for_is_not_waited_for_by_it() -> None:
    """Badly linked: the check follows the replanting. The link is kept; the branch does not wait for the check."""
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    nodes = [Node(1, 1, 60), Node(2, 1, 60, branch=10), Node(3, 1, 60, branch=10)]
    found = dates(nodes, [Arc(1, 2, 1, minimum=ZERO)], [replant])
    assert (found[2].es, found[3].es) == (TODAY, TODAY + 120)


def test_a_branch_that_a_job_of_its_own_opens_waits_for_that_job_alone() -> None:
    own = Branch(10, 1, opened_by=1, outcomes=POOR)
    found = dates([Node(1, 1, 60, branch=10), Node(2, 1, 60, branch=10)], [], [own])
    assert (found[1].es, found[2].es) == (TODAY, TODAY + 60)


def test_nested_alternatives_are_dated_inside_the_branch_around_them() -> None:
    """Poor: kill, then beans (the manager's first) by 20 June, or a cover by 20 August. Too late for neither."""
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    beans, cover = Branch(20, 1, "crop", 0, parent=10), Branch(21, 1, "crop", 1, parent=10)
    nodes = [
        Node(1, 1, 0),
        Node(2, 1, 0, branch=10),
        Node(3, 1, 0, branch=20, deadline=on(6, 20)),
        Node(4, 1, 0, branch=21, deadline=on(8, 20)),
    ]
    arcs = [Arc(1, 2, 3, minimum=Fixed(7 * DAY)), Arc(2, 2, 4, minimum=Fixed(2 * DAY))]
    found = dates(nodes, arcs, [replant, beans, cover])
    assert [found[k].es for k in (2, 3, 4)] == [at(90), at(97), at(92)]
    assert (found[2].ls, found[2].last_chance) == (on(6, 13), on(8, 18))
    assert found[1].look_by == on(6, 13)


def test_nested_alternatives_choose_their_reference_by_what_has_lapsed_too() -> None:
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    beans, cover = Branch(20, 1, "crop", 0, parent=10), Branch(21, 1, "crop", 1, parent=10)
    nodes = [
        Node(1, 1, 0),
        Node(2, 1, 0, branch=10),
        Node(3, 1, 0, branch=20, deadline=on(3, 20)),
        Node(4, 1, 0, branch=21, deadline=on(8, 20)),
    ]
    arcs = [Arc(1, 2, 3, minimum=ZERO), Arc(2, 2, 4, minimum=ZERO)]
    assert dates(nodes, arcs, [replant, beans, cover])[2].ls == on(8, 20)


def test_a_second_check_in_a_branch_not_called_for_opens_its_own_branch_in_a_copy_of_both() -> None:
    """Poor opens the replanting, which is counted again; poor again opens the cover. Each waits for its own check."""
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    again = Branch(20, 1, opened_by=2, outcomes=POOR)
    nodes = [Node(1, 1, DAY), Node(2, 1, 2 * DAY, branch=10), Node(3, 1, 0, branch=20, deadline=on(5, 1))]
    found = dates(nodes, [], [replant, again])
    assert [found[k].es for k in (1, 2, 3)] == [at(90), at(91), at(93)]
    assert (found[2].look_by, found[1].look_by) == (on(4, 29), None)


def test_a_second_check_may_open_a_branch_nested_beside_it() -> None:
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    again = Branch(20, 1, parent=10, opened_by=2, outcomes=POOR)
    nodes = [Node(1, 1, DAY), Node(2, 1, 2 * DAY, branch=10), Node(3, 1, 0, branch=20)]
    found = plan(nodes, [], [replant, again])
    assert [found.dates[k].es for k in (1, 2, 3)] == [at(90), at(91), at(93)]
    assert set(found.branches.values()) == {BranchState.NOT_CALLED_FOR}


def test_a_job_skipped_before_its_branch_was_called_for_waits_for_no_check() -> None:
    skipped = Node(2, 1, 60, branch=10, skipped=Skip.SATISFIED, skipped_at=at(80))
    found = dates([Node(1, 1, DAY), skipped, Node(3, 1, 0, branch=10)], [], [Branch(10, 1, opened_by=1, outcomes=POOR)])
    assert [found[k].es for k in (1, 2, 3)] == [at(90), at(80), at(91)]


def test_a_group_whose_branches_all_wait_for_an_outcome_is_not_in_the_reference() -> None:
    beans = Branch(10, 1, "crop", 0, opened_by=1, outcomes=POOR)
    cover = Branch(11, 1, "crop", 1, opened_by=1, outcomes=POOR)
    nodes = [Node(1, 1, 0), Node(2, 1, DAY, branch=10), Node(3, 1, 3 * DAY, branch=11), Node(4, 1, 0)]
    arcs = [Arc(1, 2, 4, minimum=ZERO), Arc(2, 3, 4, minimum=ZERO)]
    found = dates(nodes, arcs, [beans, cover])
    assert [found[k].es for k in (2, 3, 4)] == [TODAY] * 3
    assert [found[k].on_reference for k in (2, 3)] == [False, False]


def test_a_check_outside_of_what_was_given_leaves_its_branch_not_called_for_without_a_wait() -> None:
    found = plan([Node(2, 1, 60, branch=10)], [], [Branch(10, 1, opened_by=1, outcomes=POOR)])
    assert found.branches == {10: BranchState.NOT_CALLED_FOR}
    assert found.dates[2].es == TODAY


def test_slack_is_compared_within_the_season_and_within_the_copy() -> None:
    """With the burn, jobs 1 and 3 have 9 and 5 days of slack; 3 is the least of season 1, 4 the only one of season 2.
    The mowing has 2 in its own copy, where its successor has 2 as well."""
    nodes = [
        Node(1, 1, 0, branch=10, deadline=at(99)),
        Node(2, 1, 0, branch=11),
        Node(3, 1, 0, deadline=at(95)),
        Node(4, 2, 0, deadline=at(93)),
    ]
    arcs = [
        Arc(1, 1, 3, minimum=Fixed(-9 * DAY)),
        Arc(2, 2, 3, minimum=Fixed(3 * DAY)),
        Arc(3, 3, 4, minimum=Fixed(-9 * DAY)),
    ]
    found = dates(nodes, arcs, [BURN, MOW])
    assert [found[k].slack // DAY for k in (1, 2, 3, 4)] == [9, 2, 5, 3]
    assert [found[k].critical for k in (1, 2, 3, 4)] == [False, True, True, True]


def test_jobs_that_stand_or_only_hand_on_are_never_critical() -> None:
    nodes = [
        Node(1, 1, 0, finished=Moment.at(at(80))),
        Node(2, 1, 0, skipped=Skip.SATISFIED, skipped_at=at(80)),
        Node(3, 1, 0, called_off=True),
        Node(4, 1, 0, deadline=at(99)),
    ]
    arcs = [Arc(k, k, 4, minimum=ZERO) for k in (1, 2, 3)]
    found = dates(nodes, arcs)
    assert [found[k].critical for k in (1, 2, 3, 4)] == [False, False, False, True]


@pytest.mark.parametrize(("span", "slack"), [(season(to=on(3, 1)), NEG), ((), NEG), (season(), FAR)])
def test_slack_is_not_finite_where_a_date_is_missing(span: tuple[tuple[int, int], ...], slack: int) -> None:
    row = dates([Node(1, 1, 60, span)])[1]
    assert (row.slack, row.critical) == (slack, False)


@pytest.mark.parametrize(("tail", "head", "missing"), [(1, 8, 8), (7, 1, 7)])
def test_a_link_to_a_job_that_is_not_there_is_refused_by_name(tail: int, head: int, missing: int) -> None:
    with pytest.raises(ValueError, match=f"Prerequisite 5 names job {missing}"):
        plan([Node(1, 1, 0)], [Arc(5, tail, head, minimum=ZERO)])


@settings(deadline=None)
@given(problems(), st.randoms())
def test_equal_input_in_another_order_gives_equal_output(drawn: Problem, random: Random) -> None:
    """D18, down to the order of the rows."""
    shuffled = replace(
        drawn,
        **{
            name: tuple(random.sample(getattr(drawn, name), len(getattr(drawn, name))))
            for name in ("nodes", "arcs", "branches")
        },
    )
    first, second = schedule(drawn), schedule(shuffled)
    assert list(first.dates.items()) == list(second.dates.items())
    assert list(first.branches.items()) == list(second.branches.items())


@settings(deadline=None)
@given(problems(components=3))
def test_a_component_alone_gives_the_dates_it_has_in_the_whole(drawn: Problem) -> None:
    """D18: what one report touches is walked by itself."""

    whole = schedule(drawn)
    for part in parts(drawn):
        assert dict(schedule(part).dates) == {node.id: whole.dates[node.id] for node in part.nodes}
