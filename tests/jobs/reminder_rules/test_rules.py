"""Each rule by cases of its own: who hears, on what basis, how heavy, and when it is no news."""

from dataclasses import replace

import pytest

from jobs.reminder_rules import (
    Begun,
    CheckIn,
    Forecast,
    Free,
    Given,
    Intent,
    Known,
    Tell,
    Use,
    Work,
    alarms,
    fitting,
    moved,
    news,
    opened,
    stock,
)
from tests.jobs.reminder_rules.days import DAY, day, given, minute

BOSS, BEN, INES = 1, 2, 3
NOTHING = Known()


def said(work: Work, now: int, known: Known = NOTHING) -> list[tuple[int, str, str, str]]:
    """(person, kind, basis, weight) of the news about a job, with one manager."""
    return [(one.person, one.kind, one.basis, one.weight) for one in news(work, now, known, (BOSS,))]


def told(*rows: tuple[int, str, str, bool]) -> Known:
    """What was told of job 7 before: (person, kind, basis, it left)."""
    return Known.of((person, kind, 7, basis, left) for person, kind, basis, left in rows)


# opened


def test_a_job_that_opens_is_news_for_those_it_fits() -> None:
    before, after = {1: "open", 2: "held"}, {1: "open", 2: "open", 3: "open", 4: "held"}
    found = opened(before, after, {2: (BEN, INES), 3: (INES,), 4: (BEN,)}, "2026-05-04", (BOSS,))
    assert [(one.person, one.job, one.about) for one in found] == [(BEN, 2, 0), (INES, 2, 0), (INES, 3, 0)]
    assert {(one.kind, one.basis, one.weight) for one in found} == {("opened", "open 2026-05-04", "news")}


def test_a_job_that_fits_nobodys_hours_is_told_to_the_managers() -> None:
    fits = fitting((BEN,), given=False, free={BEN: Free(True, 30)}, minutes=120, skills=frozenset())
    found = opened({}, {7: "open"}, {7: fits}, "2026-05-04", (BOSS,))
    assert [(one.person, one.about) for one in found] == [(BOSS, 1)]


# windows


def window(issued: int, number: int | None, first: float = 6, last: float = 10) -> Forecast:
    if number is None:
        return Forecast(issued)
    return Forecast(issued, minute(number, first), minute(number, last), day(number))


def hours_of(*forecasts: Forecast, state: str = "open") -> Work:
    return Work(7, state, workers=(BEN,), forecasts=forecasts)


SATURDAY_WINDOW = f"window {day(5)} {minute(5, 6)}"


@pytest.mark.parametrize(
    ("newest", "before", "is_told"),
    [
        (window(2, 5), window(1, 5), True),
        (window(2, 5), window(1, 5, 7, 11), True),
        (window(2, 5), window(1, 5, 9, 13), False),
        (window(2, 5), window(1, 6), False),
        (window(2, 5), window(1, None), False),
        (window(2, None), window(1, 5), False),
        (window(2, 5), window(2, 5), False),
    ],
)
def test_a_window_is_told_when_two_forecasts_agree(newest: Forecast, before: Forecast, is_told: bool) -> None:
    found = said(hours_of(newest, before), minute(3))
    assert found == ([(BEN, "window", SATURDAY_WINDOW, "news")] if is_told else [])


def test_one_forecast_alone_tells_no_window() -> None:
    assert said(hours_of(window(2, 5)), minute(3)) == []


def test_a_window_of_the_next_hours_does_not_wait_for_the_evening() -> None:
    assert said(hours_of(window(2, 5), window(1, 5)), minute(4, 7))[0][3] == "call"


def test_a_window_that_shifts_within_its_day_is_the_same_news() -> None:
    known = told((BEN, "window", SATURDAY_WINDOW, True))
    assert said(hours_of(window(3, 5, 7, 11), window(2, 5, 7, 11)), minute(3), known) == [
        (BEN, "window", SATURDAY_WINDOW, "news")
    ]


def test_a_told_window_that_goes_is_taken_back_once() -> None:
    known = told((BEN, "window", SATURDAY_WINDOW, True))
    gone = [(BEN, "window_gone", SATURDAY_WINDOW, "news")]
    assert said(hours_of(window(minute(3), None), window(2, 5)), minute(3), known) == gone
    assert said(hours_of(window(minute(3), 8), window(2, 5)), minute(3), known) == gone
    again = hours_of(window(minute(4), 5), window(minute(3), 5))
    assert [row[1] for row in said(again, minute(4), known)] == ["window"], "told already: the same basis"


@pytest.mark.parametrize(
    "work",
    [
        hours_of(window(minute(3), 4), window(2, 5)),  # an earlier window comes first, and says nothing of Saturday
        hours_of(window(minute(5, 7), 8), window(2, 5)),  # made when the window had begun
        hours_of(window(minute(3), None), state="done"),
    ],
)
def test_a_window_is_not_taken_back_by_what_says_nothing_of_it(work: Work) -> None:
    known = told((BEN, "window", SATURDAY_WINDOW, True))
    assert "window_gone" not in [row[1] for row in said(work, minute(3), known)]


def test_a_window_that_was_never_told_is_not_taken_back() -> None:
    known = told((BEN, "window", SATURDAY_WINDOW, False))
    assert said(hours_of(window(minute(3), None), window(2, 5)), minute(3), known) == []


# last days


def ends_on(number: int, **more: object) -> Work:
    work = Work(7, "open", workers=(INES,), late=minute(number, 12), late_day=day(number))
    return replace(work, **more)  # type: ignore[arg-type]


def test_the_last_day_is_told_a_week_before_to_managers_and_those_it_was_given_to() -> None:
    work = ends_on(9, given=(given(None, BEN, by=BEN),))
    late = minute(9, 12)
    assert said(work, late - 7 * DAY - 1) == []
    assert said(work, late - 7 * DAY) == [
        (BOSS, "last_day", f"last {day(9)}", "news"),
        (BEN, "last_day", f"last {day(9)}", "news"),
    ]
    assert said(work, late + 1) == []


@pytest.mark.parametrize("more", [{"state": "under_way"}, {"state": "lapsed"}, {"aside": True}, {"late": None}])
def test_a_begun_lapsed_or_set_aside_job_has_no_last_day_to_tell(more: dict[str, object]) -> None:
    assert said(ends_on(5, **more), minute(3)) == []


@pytest.mark.parametrize(
    ("before", "after", "is_news"),
    [
        (1, 1, False),
        (1, 2, False),
        (1, 3, True),
        (4, 5, True),
        (5, 6, False),
        (6, 7, True),
        (3, 1, True),
        (2, 1, False),
    ],
)
def test_a_date_moved_by_two_days_or_over_a_weekend_is_news(before: int, after: int, is_news: bool) -> None:
    assert moved(day(before), day(after)) is is_news


def test_a_last_day_that_moved_by_one_day_is_the_news_that_was_told() -> None:
    known = told((BOSS, "last_day", f"last {day(2)}", True))
    assert said(ends_on(3), minute(1), known) == [(BOSS, "last_day", f"last {day(2)}", "news")]
    assert said(ends_on(4), minute(1), known) == [(BOSS, "last_day", f"last {day(4)}", "news")]


# assignments


def test_an_assignment_is_told_to_whom_it_concerns_and_not_to_who_made_it() -> None:
    work = Work(7, "held", given=(given(5, BOSS, BEN, hour=9, by=BOSS),))
    assert said(work, minute(3)) == [(BEN, "assigned", f"given 1 {day(5)} {minute(5, 9)}", "news")]


def test_an_assignment_for_tomorrow_morning_does_not_wait_for_the_evening() -> None:
    work = Work(7, "open", given=(given(4, BEN, hour=7),))
    assert said(work, minute(3, 20))[0][3] == "call"


def test_another_day_is_news_of_its_own() -> None:
    first, second = (Work(7, "open", given=(given(number, BEN),)) for number in (5, 6))
    assert said(first, minute(2)) != said(second, minute(2))


def test_taken_away_is_told_to_who_had_been_told_of_it_and_did_not_end_it() -> None:
    ended = replace(given(5, BEN, INES, pk=11, ended_by=INES), active=False)
    work = Work(7, "open", given=(ended,))
    assert said(work, minute(3)) == []
    assert said(work, minute(3), told((BEN, "assigned", f"given 1 {day(5)}", True))) == [], "another assignment"
    known = told((BEN, "assigned", f"given 11 {day(5)}", True), (INES, "assigned", f"given 11 {day(5)}", True))
    assert said(work, minute(3), known) == [(BEN, "assigned", "ended 11", "news")]
    waits = told((BEN, "assigned", f"given 11 {day(5)}", False))
    assert said(work, minute(3), waits) == [], "what never left needs no taking back"


@pytest.mark.parametrize("state", ["done", "called_off", "not_called_for"])
def test_an_assignment_of_a_job_that_is_over_is_no_news(state: str) -> None:
    assert said(Work(7, state, given=(given(5, BEN),)), minute(3)) == []


def test_an_assigned_day_that_is_over_is_no_news() -> None:
    assert "assigned" not in [row[1] for row in said(Work(7, "open", given=(given(2, BEN),)), minute(3))]


# looks


def test_a_look_is_told_from_its_day_on_to_those_who_work_there() -> None:
    work = Work(7, "held", workers=(BEN,), look=minute(3), look_day=day(3))
    assert said(work, minute(3) - 1) == []
    assert said(work, minute(3)) == [(BEN, "look", f"look {day(3)}", "news")]
    assert said(replace(work, state="open"), minute(3)) == []


def test_a_look_in_vain_is_asked_for_anew() -> None:
    work = Work(7, "held", workers=(BEN,), look=minute(3), look_day=day(3))
    known = told((BEN, "look", f"look {day(1)}", True))
    assert said(work, minute(3), known)[0][2] == f"look {day(3)}"


# overdue reports


def test_an_assigned_day_without_a_report_is_asked_of_the_person_and_next_day_told_to_the_manager() -> None:
    work = Work(7, "open", given=(given(2, BEN, by=BEN),))
    asked = (BEN, "overdue", f"day 1 {day(2)}", "news")
    assert said(work, minute(3) - 1) == []
    assert said(work, minute(3)) == [asked]
    assert said(work, minute(4)) == [(BOSS, *asked[1:]), asked]
    assert said(work, minute(3 + 14)) == []


def test_a_report_of_that_day_or_later_answers_it() -> None:
    work = Work(7, "open", given=(given(2, BEN, by=BEN),), heard_at=minute(2, 10))
    assert said(work, minute(3)) == []
    assert said(replace(work, heard_at=minute(1, 10)), minute(3)) != []


def test_work_begun_and_never_ended_is_asked_about() -> None:
    work = Work(7, "under_way", begun=Begun(30, BEN, minute(3), minute(4)))
    assert said(work, minute(3) - 1) == []
    assert said(work, minute(3)) == [(BEN, "overdue", "begun 30", "news")]
    assert said(work, minute(4)) == [(BOSS, "overdue", "begun 30", "news"), (BEN, "overdue", "begun 30", "news")]
    assert said(replace(work, state="done"), minute(4)) == []


# to be told first


def burn(number: int, *leads_h: int, hour: float = 9) -> Work:
    tells = tuple(Tell(pk, hours * 60) for pk, hours in enumerate(leads_h, 1))
    return Work(7, "open", given=(given(number, BEN, hour=hour, by=BEN),), tells=tells)


def test_an_outsider_is_named_in_the_evening_before_their_lead_time_begins() -> None:
    work, starts = burn(5, 24), minute(5, 9)
    assert said(work, starts - 2 * DAY - 1) == []
    basis = f"tell 1 {starts} 1440 1"
    assert said(work, starts - 2 * DAY) == [(BOSS, "tell_first", basis, "news"), (BEN, "tell_first", basis, "news")]
    assert {row[3] for row in said(work, starts - DAY)} == {"call"}, "no evening lies between any more"
    assert said(work, minute(6))[:1] == [(BEN, "overdue", f"day 1 {day(5)}", "news")]


def test_outsiders_of_one_lead_time_are_told_of_together() -> None:
    found = {row[2] for row in said(burn(5, 2, 24, 2), minute(5, 8))}
    assert found == {f"tell 1 {minute(5, 9)} 120 1.3", f"tell 1 {minute(5, 9)} 1440 2"}


def test_without_an_assigned_day_nobody_is_told_first() -> None:
    assert said(Work(7, "open", given=(given(None, BEN, by=BEN),), tells=(Tell(1, 60),)), minute(5)) == []


def test_another_hour_is_news_for_those_who_call_the_outsider() -> None:
    assert said(burn(5, 24), minute(4)) != said(burn(5, 24, hour=11), minute(4))


# stock


USES = (Use(1, minute(2), day(2), 3.0), Use(2, minute(8), day(8), 4.0), Use(3, minute(20), day(20), 50.0))


@pytest.mark.parametrize(("counted", "short"), [(2.0, 2), (3.0, 8), (6.9, 8), (7.0, None), (None, None)])
def test_stock_that_does_not_last_two_weeks_is_told_by_the_first_job_that_goes_short(
    counted: float | None, short: int | None
) -> None:
    found = stock(9, counted, USES, day(0), NOTHING, (BOSS,))
    wanted = [] if short is None else [Intent(BOSS, "stock", 0, f"material 9 {day(short)}", about=9)]
    assert found == wanted


def test_another_material_of_a_longer_number_is_other_news() -> None:
    known = Known.of([(BOSS, "stock", 0, f"material 91 {day(2)}", True)])
    assert stock(9, 0.0, USES[1:], day(0), known, (BOSS,))[0].basis == f"material 9 {day(8)}"


# alone


def test_an_overdue_call_of_somebody_alone_is_an_alarm_to_all_others() -> None:
    check = CheckIn(4, BEN, 7, minute(5, 12))
    crew = {7: (BOSS, BEN, INES)}
    assert alarms([check], minute(5, 12) + 14, crew) == []
    found = alarms([check], minute(5, 12) + 15, crew)
    assert [(one.person, one.weight, one.basis, one.about) for one in found] == [
        (BOSS, "alarm", "check-in 4", BEN),
        (INES, "alarm", "check-in 4", BEN),
    ]


def test_given_to_nobody_tells_nobody() -> None:
    assert said(Work(7, "open", given=(Given(1, frozenset()),)), minute(3)) == []
