"""What was told before."""

from jobs.reminder_rules import Known


def test_what_was_told_is_kept_in_its_order_and_left_if_one_way_carried_it() -> None:
    rows = [(1, "look", 7, "look 2026-05-04", False), (1, "look", 7, "look 2026-05-04", True)]
    known = Known.of([*rows, (1, "look", 7, "look 2026-05-09", False), (2, "look", 7, "look 2026-05-04", False)])
    assert list(known.bases(1, "look", 7)) == [("look 2026-05-04", True), ("look 2026-05-09", False)]
    assert known.left(1, "look", 7, "look 2026-05-04")
    assert not known.left(2, "look", 7, "look")
    assert list(known.bases(1, "look", 8)) == []
