"""Fixpoints in many rounds, unknown parts and contradictions (D2, D8, D9, D14)."""

from jobs.graph.data import FAR, NEG, Arc, Cause, DegreeDays, Fixed, Node, Relation
from tests.jobs.graph.days import DAY, TODAY, at, dates, heat, on, season

SPRING = [0] * 100 + [100] * 30 + [1000] * 235
"""Nothing until day 100, then 1.00 a day, and 10.00 from day 130 on."""


def test_a_weather_lag_that_april_contradicts_is_met_in_may() -> None:
    """50.00 at least and 7 days at most. Planted on day 128, 1.00 and five times 10.00 are there as day 135 begins,
    seven days later; a day sooner it would be eight."""
    arc = Arc(1, 1, 2, minimum=DegreeDays(0, 5000), maximum=Fixed(7 * DAY))
    found = dates([Node(1, 1, 0), Node(2, 1, 0)], [arc], curve=heat(SPRING))
    assert not found[1].contradiction
    assert (found[1].es, found[2].es) == (at(128), at(135))


def test_rounds_are_not_bounded_by_the_number_of_jobs() -> None:
    """Each day is 0.10 warmer than the one before, so two jobs climb by ever fewer days a round, from day 90 to the
    first whose six next days bring 80.00."""
    warmer = [max(0, 10 * (k - 80)) for k in range(365)]
    first = next(k for k in range(90, 365) if sum(warmer[k + 1 : k + 7]) >= 8000)
    rounds, day = 0, 90
    while day < first:
        day = next(k for k in range(day, 365) if sum(warmer[day + 1 : k + 1]) >= 8000) + 1 - 7
        rounds += 1
    assert rounds > 15
    arc = Arc(1, 1, 2, minimum=DegreeDays(0, 8000), maximum=Fixed(7 * DAY))
    found = dates([Node(1, 1, 0), Node(2, 1, 0)], [arc], curve=heat(warmer))
    assert (found[1].es, found[1].contradiction) == (at(first), False)
    cooler = [min(value, 1000) for value in warmer]
    assert dates([Node(1, 1, 0), Node(2, 1, 0)], [arc], curve=heat(cooler))[1].contradiction


def test_a_weather_lag_that_no_season_meets_is_a_contradiction_and_its_part_goes_without_the_maximum() -> None:
    """At most 10.00 a day make 50.00 in 4 days never. The date is then that of the minimum alone."""
    arc = Arc(1, 1, 2, minimum=DegreeDays(0, 5000), maximum=Fixed(4 * DAY))
    nodes = [Node(1, 1, 0), Node(2, 1, 0), Node(3, 1, 0)]
    found = dates(nodes, [arc, Arc(2, 2, 3, minimum=Fixed(DAY))], curve=heat(SPRING))
    assert [found[k].contradiction for k in (1, 2, 3)] == [True, True, False]
    assert (found[1].es, found[2].es, found[3].es) == (TODAY, at(132), at(133))
    assert found[2].why_es.arc == 1
    assert found[1].why_es.cause is Cause.TODAY


def test_a_maximum_that_is_set_aside_is_so_in_both_passes() -> None:
    """Due for the first job on day 95; the second would have to follow by day 99 if the maximum held."""
    arc = Arc(1, 1, 2, minimum=DegreeDays(0, 5000), maximum=Fixed(4 * DAY))
    found = dates([Node(1, 1, 0, deadline=at(95)), Node(2, 1, 0)], [arc], curve=heat(SPRING))
    assert (found[1].ls, found[2].ls) == (at(95), FAR)


def test_fixed_lags_that_contradict_end_soon_and_leave_the_rest_of_the_component_alone() -> None:
    """10 days at least and 5 at most between 1 and 2; 3 and 4 keep their own maximum of 14 days."""
    nodes = [Node(1, 1, 0), Node(2, 1, 0), Node(3, 1, 0), Node(4, 1, 0, season(on(5, 1)))]
    arcs = [
        Arc(1, 1, 2, minimum=Fixed(10 * DAY), maximum=Fixed(5 * DAY)),
        Arc(2, 2, 3, minimum=Fixed(0)),
        Arc(3, 3, 4, minimum=Fixed(DAY), maximum=Fixed(14 * DAY)),
    ]
    found = dates(nodes, arcs)
    assert [found[k].contradiction for k in (1, 2, 3, 4)] == [True, True, False, False]
    assert [found[k].es for k in (1, 2, 3, 4)] == [TODAY, at(100), on(4, 17), on(5, 1)]


def test_a_maximum_that_pushes_past_a_last_allowed_start_is_a_contradiction() -> None:
    """Spray by 10 April and before planting, at most 14 days before it; planting not before 1 May."""
    spray, plant = Node(1, 1, 0, season(to=on(4, 10))), Node(2, 1, 0, season(on(5, 1)))
    found = dates([spray, plant], [Arc(1, 1, 2, minimum=Fixed(0), maximum=Fixed(14 * DAY))])
    assert found[1].contradiction
    assert found[2].contradiction
    assert (found[1].es, found[2].es) == (TODAY, on(5, 1))


def test_a_season_that_ends_too_soon_without_any_loop_is_no_contradiction_but_no_date() -> None:
    """No minimum ties them, so only the spray has nowhere to go."""
    spray, plant = Node(1, 1, 0, season(to=on(4, 10))), Node(2, 1, 0, season(on(5, 1)))
    found = dates([spray, plant], [Arc(1, 1, 2, maximum=Fixed(14 * DAY))])
    assert not found[1].contradiction
    assert (found[1].es, found[1].why_es.cause, found[2].es) == (FAR, Cause.SPAN, on(5, 1))


def test_a_successor_that_no_maximum_can_reach_pulls_nobody_in_a_contradictory_part_either() -> None:
    """The fence has no date at all. Without it, 1 and 2 still contradict each other; 4 is raised from outside."""
    nodes = [Node(1, 1, 0), Node(2, 1, 0), Node(3, 1, 0, ()), Node(4, 1, 0)]
    arcs = [
        Arc(1, 1, 2, minimum=Fixed(10 * DAY), maximum=Fixed(5 * DAY)),
        Arc(2, 2, 3, minimum=Fixed(0), maximum=Fixed(DAY)),
        Arc(3, 4, 2, maximum=Fixed(3 * DAY)),
    ]
    found = dates(nodes, arcs)
    assert [found[k].es for k in (1, 2, 3, 4)] == [TODAY, at(100), FAR, at(97)]
    assert [found[k].contradiction for k in (1, 2, 3, 4)] == [True, True, False, False]


def test_dates_years_ahead_are_no_contradiction() -> None:
    """Trees planted in three years, the ground prepared at most 30 days before: two years from today would not do."""
    prepare, plant = Node(1, 1, 0), Node(2, 1, 0, season(at(3 * 365)))
    found = dates([prepare, plant], [Arc(1, 1, 2, minimum=Fixed(0), maximum=Fixed(30 * DAY))])
    assert not found[1].contradiction
    assert found[1].es == at(3 * 365 - 30)


def test_a_deadline_that_cannot_be_met_with_the_maximum_is_lateness_and_no_contradiction() -> None:
    """20.00 at least, 7 days at most. Due on day 121 the 20.00 are those of days 101 to 120, which takes too long, and
    nothing sooner would do. The latest starts are then those without the maximum."""
    arc = Arc(1, 1, 2, minimum=DegreeDays(0, 2000), maximum=Fixed(7 * DAY))
    found = dates([Node(1, 1, 0), Node(2, 1, 0, deadline=at(121))], [arc], curve=heat(SPRING))
    assert not found[1].contradiction
    assert (found[2].es, found[2].ls, found[1].ls) == (at(132), at(121), at(101) - 1)
    assert found[2].why_ls.cause is Cause.DEADLINE


def test_a_circle_of_closures_and_a_maximum_climbs_from_stretch_to_stretch() -> None:
    """Two days at least and three at most between them. Of the days on which each fits, only 111 and 113 go together
    after today: 91 asks for 95, 95 for 101, 101 for 107, 107 for 111."""
    first = Node(1, 1, 0, tuple((at(k), at(k + 1)) for k in (91, 101, 111)))
    second = Node(2, 1, 0, tuple((at(k), at(k + 1)) for k in (95, 107, 113)))
    found = dates([first, second], [Arc(1, 1, 2, minimum=Fixed(2 * DAY), maximum=Fixed(3 * DAY))])
    assert (found[1].es, found[2].es) == (at(111), at(113))
    assert not found[1].contradiction


def test_latest_starts_go_down_from_stretch_to_stretch_as_well() -> None:
    """Due within day 107: that asks for day 101 before it, 101 for 94, 94 for 91, and those two go together."""
    first = Node(1, 1, 0, tuple((at(k), at(k + 1)) for k in (91, 101, 111)))
    second = Node(2, 1, 0, tuple((at(k), at(k + 1)) for k in (94, 107, 113)), deadline=at(107, 600))
    found = dates([first, second], [Arc(1, 1, 2, minimum=Fixed(2 * DAY), maximum=Fixed(3 * DAY))])
    assert (found[1].ls, found[2].ls) == (at(92) - 1, at(95) - 1)


def test_nothing_allowed_before_a_maximum_leaves_its_successor_its_own_latest_start() -> None:
    """D9: no bound goes through a maximum from a job that has no latest start at all."""
    spray, plant = Node(1, 1, 0, ()), Node(2, 1, 0, deadline=at(120))
    found = dates([spray, plant], [Arc(1, 1, 2, Relation.START_START, maximum=Fixed(DAY))])
    assert (found[1].ls, found[2].ls) == (NEG, at(120))
