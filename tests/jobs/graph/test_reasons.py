"""What set a date, and how ties are broken (D12)."""

from jobs.graph.data import FAR, Arc, Cause, DegreeDays, Fixed, Moment, Node, Relation, Why
from tests.jobs.graph.days import DAY, TODAY, at, dates, heat, on, season


def test_today_a_season_or_an_arc_sets_an_earliest_start() -> None:
    nodes = [Node(1, 1, 0), Node(2, 1, 0, season(on(5, 1))), Node(3, 1, 0)]
    found = dates(nodes, [Arc(7, 1, 3, minimum=Fixed(DAY))])
    assert [found[k].why_es for k in (1, 2, 3)] == [Why(Cause.TODAY), Why(Cause.SPAN), Why(Cause.ARC, 7)]


def test_a_closure_that_moves_an_arcs_bound_is_the_reason() -> None:
    spans = ((on(4, 1), on(4, 3)), (on(4, 9), on(4, 30)))
    found = dates([Node(1, 1, 0), Node(2, 1, 60, spans)], [Arc(7, 1, 2, minimum=Fixed(5 * DAY))])
    assert (found[2].es, found[2].why_es) == (on(4, 9), Why(Cause.SPAN))


def test_an_arc_goes_before_a_season_and_a_season_before_today() -> None:
    assert dates([Node(1, 1, 0, season(TODAY))])[1].why_es == Why(Cause.SPAN)
    found = dates([Node(1, 1, 0), Node(2, 1, 0, season(TODAY))], [Arc(7, 1, 2, minimum=Fixed(0))])
    assert found[2].why_es == Why(Cause.ARC, 7)


def test_of_several_arcs_the_lowest_id_is_named_whichever_way_it_binds() -> None:
    """Raised to day 95 by a wait after a fact, by one after an open job, and by a maximum to a later one."""
    nodes = [Node(1, 1, 0, finished=Moment.at(at(85))), Node(2, 1, 0), Node(3, 1, 0), Node(4, 1, 0, season(at(99)))]
    fact, open_job, pulled = (Arc(number, *ends) for number, ends in ((0, (1, 3)), (0, (2, 3)), (0, (3, 4))))
    for order in ((3, 5, 8), (8, 5, 3), (5, 3, 8)):
        arcs = [
            Arc(order[0], fact.tail, fact.head, minimum=Fixed(10 * DAY)),
            Arc(order[1], open_job.tail, open_job.head, minimum=Fixed(5 * DAY)),
            Arc(order[2], pulled.tail, pulled.head, maximum=Fixed(4 * DAY)),
        ]
        assert dates(nodes, arcs)[3].why_es == Why(Cause.ARC, 3)


def test_a_deadline_the_end_of_a_season_or_an_arc_sets_a_latest_start() -> None:
    nodes = [
        Node(1, 1, 0, deadline=on(5, 1)),
        Node(2, 1, 60, season(to=on(5, 1)), deadline=on(6, 1)),
        Node(3, 1, 0),
        Node(4, 1, 0),
    ]
    found = dates(nodes, [Arc(7, 3, 1, minimum=Fixed(DAY)), Arc(8, 3, 4, maximum=Fixed(DAY))])
    causes = [Why(Cause.DEADLINE), Why(Cause.SPAN), Why(Cause.ARC, 7), Why(Cause.ARC, 8)]
    assert [found[k].why_ls for k in (1, 2, 3, 4)] == causes
    assert dates([Node(1, 1, 0)])[1].why_ls == Why(Cause.NONE)


def test_the_lowest_id_is_named_for_a_latest_start_too() -> None:
    """Both successors ask for 20 April; so does the maximum after a job done on 10 April."""
    nodes = [
        Node(1, 1, 0, finished=Moment.at(on(3, 31))),
        Node(2, 1, 0),
        Node(3, 1, 0, deadline=on(4, 21)),
        Node(4, 1, 0, deadline=on(4, 22)),
    ]
    first, second, third = (1, 2, Fixed(20 * DAY)), (2, 3, Fixed(DAY)), (2, 4, Fixed(2 * DAY))
    for order in ((3, 5, 8), (8, 5, 3), (5, 3, 8)):
        arcs = [
            Arc(order[0], first[0], first[1], maximum=first[2]),
            Arc(order[1], second[0], second[1], minimum=second[2]),
            Arc(order[2], third[0], third[1], minimum=third[2]),
        ]
        found = dates(nodes, arcs)[2]
        assert (found.ls, found.why_ls) == (on(4, 20), Why(Cause.ARC, 3))


def test_two_jobs_that_bind_each_other_still_lead_back_to_a_source() -> None:
    """Immediately after: the minimum and the maximum of one arc are both tight. The first job speaks for itself."""
    found = dates([Node(1, 1, 60), Node(2, 1, 60)], [Arc(7, 1, 2, minimum=Fixed(0), maximum=Fixed(0))])
    assert (found[1].why_es, found[2].why_es) == (Why(Cause.TODAY), Why(Cause.ARC, 7))
    due = [Node(1, 1, 60), Node(2, 1, 60, deadline=on(5, 1))]
    found = dates(due, [Arc(7, 1, 2, minimum=Fixed(0), maximum=Fixed(0))])
    assert (found[1].why_ls, found[2].why_ls) == (Why(Cause.ARC, 7), Why(Cause.DEADLINE))


def test_a_job_in_a_circle_of_reasons_names_the_lowest_arc_from_outside() -> None:
    """2 and 3 follow each other at once. The 5 days after job 1 and the 7 days after job 4 give both the same date."""
    nodes = [Node(1, 1, 0), Node(2, 1, 0), Node(3, 1, 0), Node(4, 1, 0, finished=Moment.at(at(88)))]
    arcs = [
        Arc(7, 2, 3, minimum=Fixed(0), maximum=Fixed(0)),
        Arc(8, 1, 2, minimum=Fixed(5 * DAY)),
        Arc(9, 4, 3, minimum=Fixed(7 * DAY)),
    ]
    found = dates(nodes, arcs)
    assert (found[2].es, found[2].why_es, found[3].why_es) == (at(95), Why(Cause.ARC, 8), Why(Cause.ARC, 7))


def test_a_closure_that_moved_one_job_of_a_circle_is_the_source() -> None:
    """The second job cannot be before day 96, so the first not before day 94, which is closed until day 97."""
    first = Node(1, 1, 0, ((at(80), at(93)), (at(97), at(120))))
    second = Node(2, 1, 0, season(at(96)))
    found = dates([first, second], [Arc(7, 1, 2, minimum=Fixed(2 * DAY), maximum=Fixed(2 * DAY))])
    assert (found[1].es, found[2].es) == (at(97), at(99))
    assert (found[1].why_es, found[2].why_es) == (Why(Cause.SPAN), Why(Cause.ARC, 7))


def test_lags_on_weather_that_give_each_other_the_date_leave_one_job_without_a_cause() -> None:
    """Hot on day 95 because planted on day 92, and planted on day 92 because hot on day 95, at most 3 days later.
    The one that was raised keeps its reason."""
    curve = heat([0] * 93 + [1000] * 2 + [0] * 30)
    arc = Arc(7, 1, 2, minimum=DegreeDays(0, 2000), maximum=Fixed(3 * DAY))
    found = dates([Node(1, 1, 0), Node(2, 1, 0)], [arc], curve=curve)
    assert (found[1].es, found[2].es) == (at(92), at(95))
    assert (found[1].why_es, found[2].why_es) == (Why(Cause.ARC, 7), Why(Cause.NONE))


def test_what_is_under_way_is_not_made_late_by_what_it_began_itself() -> None:
    """Begun on day 89, the next job 2 to 10 days later: its own latest start would follow from itself."""
    nodes = [Node(1, 1, DAY, started=Moment.at(at(89))), Node(2, 1, 0)]
    found = dates(nodes, [Arc(7, 1, 2, Relation.START_START, Fixed(2 * DAY), Fixed(10 * DAY))])
    assert (found[2].ls, found[2].why_ls) == (at(99), Why(Cause.ARC, 7))
    assert (found[1].ls, found[1].why_ls) == (at(97), Why(Cause.NONE))


def test_an_unknown_start_names_the_wait_that_is_unknown() -> None:
    found = dates([Node(1, 1, 0), Node(2, 1, 0)], [Arc(7, 1, 2, minimum=DegreeDays(0, 50))], curve=heat([0] * 120))
    assert (found[2].es, found[2].why_es) == (FAR, Why(Cause.ARC, 7))
