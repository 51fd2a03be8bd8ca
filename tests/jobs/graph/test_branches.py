"""States of branches from facts (D10, D11)."""

import pytest

from jobs.graph.branches import Choices
from jobs.graph.data import Branch, BranchState, Moment, Node, Skip
from tests.jobs.graph.days import TODAY

CHOSEN, DEAD, PAUSED = BranchState.CHOSEN, BranchState.DEAD, BranchState.PAUSED
NOT_CALLED_FOR, OPEN = BranchState.NOT_CALLED_FOR, BranchState.OPEN
NOW = Moment.at(TODAY)
BURN, MOW = Branch(10, 1, "clear", 0), Branch(11, 1, "clear", 1)
POOR = frozenset({"poor"})


def job(number: int, branch: int | None = None, **facts: object) -> Node:
    return Node(number, 1, 60, branch=branch, **facts)


def states(branches: list[Branch], nodes: list[Node]) -> dict[int, BranchState]:
    return Choices(branches, nodes).states


def test_alternatives_nobody_began_are_open() -> None:
    assert states([BURN, MOW], [job(1, 10), job(2, 11)]) == {10: OPEN, 11: OPEN}


def test_beginning_one_chooses_it_and_pauses_its_sibling() -> None:
    assert states([BURN, MOW], [job(1, 10, started=NOW), job(2, 11)]) == {10: CHOSEN, 11: PAUSED}


def test_doing_one_calls_off_its_sibling() -> None:
    assert states([BURN, MOW], [job(1, 10, finished=NOW), job(2, 11)]) == {10: CHOSEN, 11: DEAD}


def test_a_branch_of_two_jobs_is_done_when_none_is_left_to_do() -> None:
    """The break is mown, the burn itself is not: mowing all of it is only paused."""
    began = [job(1, 10, finished=NOW), job(2, 10), job(3, 11)]
    assert states([BURN, MOW], began) == {10: CHOSEN, 11: PAUSED}
    skipped = [job(1, 10, finished=NOW), job(2, 10, skipped=Skip.PASSED_OVER), job(3, 11)]
    assert states([BURN, MOW], skipped) == {10: CHOSEN, 11: DEAD}


def test_a_person_calls_a_branch_off_whatever_was_begun_in_it_and_its_sibling_lives() -> None:
    off = Branch(10, 1, "clear", called_off=True)
    assert states([off, MOW], [job(1, 10, finished=NOW), job(2, 11)]) == {10: DEAD, 11: OPEN}


def test_two_siblings_done_are_both_chosen_and_in_conflict() -> None:
    choices = Choices([BURN, MOW], [job(1, 10, finished=NOW), job(2, 11, finished=NOW), job(3)])
    assert choices.states == {10: CHOSEN, 11: CHOSEN}
    assert choices.conflicts() == {1, 2}


def test_one_done_and_one_begun_are_no_conflict() -> None:
    choices = Choices([BURN, MOW], [job(1, 10, finished=NOW), job(2, 11, started=NOW)])
    assert choices.states == {10: CHOSEN, 11: CHOSEN}
    assert choices.conflicts() == set()


@pytest.mark.parametrize(
    ("outcome", "expected", "state"),
    [(None, False, NOT_CALLED_FOR), (None, True, OPEN), ("poor", False, OPEN), ("good", True, DEAD)],
)
def test_an_outcome_opens_or_closes_and_until_then_only_what_is_expected_is_open(
    outcome: str | None, expected: bool, state: BranchState
) -> None:
    replant = Branch(10, 1, opened_by=1, outcomes=POOR, expected=expected)
    assert states([replant], [job(1, outcome=outcome), job(2, 10)]) == {10: state}


def test_work_begun_before_the_outcome_is_chosen_all_the_same() -> None:
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    assert states([replant], [job(1), job(2, 10, started=NOW)]) == {10: CHOSEN}


def test_a_nested_branch_shares_the_fate_of_the_one_around_it() -> None:
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    beans, cover = Branch(20, 1, "crop", 0, parent=10), Branch(21, 1, "crop", 1, parent=10)
    nodes = [job(2, 10), job(3, 20), job(4, 21)]
    assert states([replant, beans, cover], [job(1), *nodes]) == {
        10: NOT_CALLED_FOR,
        20: NOT_CALLED_FOR,
        21: NOT_CALLED_FOR,
    }
    assert states([replant, beans, cover], [job(1, outcome="good"), *nodes]) == {10: DEAD, 20: DEAD, 21: DEAD}
    assert states([replant, beans, cover], [job(1, outcome="poor"), *nodes]) == {10: OPEN, 20: OPEN, 21: OPEN}


def test_a_paused_branch_pauses_what_is_nested_in_it() -> None:
    inner = Branch(20, 1, parent=11)
    assert states([BURN, MOW, inner], [job(1, 10, started=NOW), job(2, 11), job(3, 20)])[20] is PAUSED


def test_beginning_a_nested_branch_chooses_the_one_around_it() -> None:
    inner = Branch(20, 1, parent=10)
    assert states([BURN, MOW, inner], [job(1, 10), job(2, 11), job(3, 20, started=NOW)]) == {
        10: CHOSEN, 11: PAUSED, 20: CHOSEN,
    }  # fmt: skip


def test_a_branch_is_done_only_when_one_of_its_nested_alternatives_is() -> None:
    """Burn with its own job done, and inside it ring or flank: done when the ring is, whatever the flank."""
    ring, flank = Branch(20, 1, "fire", 0, parent=10), Branch(21, 1, "fire", 1, parent=10)
    nodes = [job(1, 10, finished=NOW), job(3, 21), job(4, 11)]
    assert states([BURN, MOW, ring, flank], [*nodes, job(2, 20)])[11] is PAUSED
    assert states([BURN, MOW, ring, flank], [*nodes, job(2, 20, finished=NOW)])[11] is DEAD


def test_a_check_that_is_not_called_for_opens_nothing_yet() -> None:
    replant = Branch(10, 1, opened_by=1, outcomes=POOR)
    again = Branch(20, 1, opened_by=2, outcomes=frozenset({"good"}), expected=True)
    assert states([replant, again], [job(1), job(2, 10), job(3, 20)])[20] is NOT_CALLED_FOR


def test_a_check_that_is_called_off_with_its_branch_leaves_what_it_would_open_not_called_for() -> None:
    again = Branch(20, 1, opened_by=2, outcomes=POOR, expected=True)
    assert states([Branch(10, 1, called_off=True), again], [job(2, 10), job(3, 20)])[20] is NOT_CALLED_FOR


def test_equal_group_names_in_two_seasons_are_no_siblings() -> None:
    assert states([BURN, Branch(11, 2, "clear")], [job(1, 10, finished=NOW), Node(2, 2, 60, branch=11)])[11] is OPEN


def test_a_branch_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match="Job 1 lies in branch 99"):
        Choices([BURN], [job(1, 99)])


def test_branches_nested_in_a_circle_are_refused() -> None:
    with pytest.raises(ValueError, match="nested in a circle"):
        Choices([Branch(10, 1, parent=11), Branch(11, 1, parent=10)], [])
