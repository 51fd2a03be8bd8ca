"""The last minute a burn can be lit, and whether the crew makes it."""

import pytest

from jobs.windows.ignition import BurnPlan, Crew, evening

PLAN = BurnPlan(burn_out_min=70, mop_up_min=60, briefing_min=15, least_crew=3)


def at(hour: int, minute: int = 0) -> int:
    return 60 * hour + minute


def three(free: int = at(17), away: int = 35) -> list[Crew]:
    return [Crew(name, free, away) for name in ("A", "B", "C")]


def test_light_binds_where_mop_up_would_end_in_the_dark() -> None:
    """In prescription 16:30 to 19:00, dark at 19:34: 19:00 less 70 is 17:50, 19:34 less 130 is 17:24."""
    found = evening(PLAN, (at(16, 30), at(19)), at(19, 34), three())
    assert (found.latest_ignition, found.binds) == (at(17, 24), "light")


def test_a_crew_that_comes_too_late_is_told_by_how_much_and_when_to_leave() -> None:
    """Free at 17:00, 35 minutes away, 15 of briefing: ready 17:50, 26 minutes late; leaving by 16:34 it could be."""
    found = evening(PLAN, (at(16, 30), at(19)), at(19, 34), three())
    assert (found.ready, found.short_min, found.leave_by, found.can_be) == (at(17, 50), 26, at(16, 34), False)
    earlier = evening(PLAN, (at(16, 30), at(19)), at(19, 34), three(free=at(16, 34)))
    assert (earlier.short_min, earlier.can_be) == (0, True)


def test_a_window_early_enough_can_be_met_and_the_weather_binds() -> None:
    found = evening(PLAN, (at(14), at(18, 30)), at(19, 40), three(free=at(14)))
    assert (found.latest_ignition, found.binds, found.can_be) == (at(17, 20), "prescription", True)


def test_with_too_few_who_said_yes_there_is_no_burn() -> None:
    crew = [*three()[:2], Crew("C", at(12), 5, confirmed=False)]
    found = evening(PLAN, (at(14), at(18, 30)), at(19, 40), crew)
    assert (found.crew_short, found.ready, found.can_be) == (1, None, False)


def test_nobody_lights_before_the_prescription_begins() -> None:
    found = evening(PLAN, (at(14), at(18, 30)), at(19, 40), three(free=at(8)))
    assert found.ready == at(14)


def test_a_stretch_shorter_than_the_burn_out_is_none() -> None:
    found = evening(PLAN, (at(18), at(19)), at(22), three(free=at(12)))
    assert (found.short_min, found.can_be) == (10, False)


@pytest.mark.parametrize("wrong", [(0, 60, 15, 3), (70, -1, 15, 3), (70, 60, -1, 3), (70, 60, 15, 1)])
def test_a_plan_that_cannot_be_is_refused(wrong: tuple[int, int, int, int]) -> None:
    with pytest.raises(ValueError, match=r"Burn-out|two people"):
        BurnPlan(*wrong)
