"""The rules, one function a kind of news. Each says who hears it, on what basis, and how heavy it weighs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from jobs.reminder_rules.data import (
    ALARM,
    ALARM_KIND,
    ASSIGNED,
    CALL,
    LAST_DAY,
    LOOK,
    NEWS,
    OPENED,
    OVERDUE,
    STOCK,
    TELL_FIRST,
    WINDOW,
    WINDOW_GONE,
    CheckIn,
    Forecast,
    Intent,
    Known,
    Use,
    Work,
)

DAY = 1440
LAST_DAYS = 7
"""The last sensible day is told so many days before it: one weekend lies between (common practice)."""
STOCK_DAYS = 14
OVERDUE_DAYS = 14
"""An assigned day without a report is asked about for so many days."""
SOON = DAY
"""What begins within so many minutes does not wait for the evening."""
GRACE_MIN = 15
"""A call of somebody alone may be so late before it is an alarm (a setting of ours)."""
LONGEST_BASIS = 120

NOT_BEGUN = frozenset({"open", "held"})
NOT_OVER = frozenset({"open", "held", "under_way", "lapsed"})


def opened(
    before: Mapping[int, str],
    after: Mapping[int, str],
    who: Mapping[int, Sequence[int]],
    day: str,
    managers: Sequence[int] = (),
) -> list[Intent]:
    """News of the jobs that are open now and were not before; `day`, the holding's local day, is the basis.

    `who` are those whose hours it fits; where it fits nobody's, the managers hear, and `about` is 1."""
    found = []
    for job in sorted(after):
        if after[job] == "open" and before.get(job) != "open":
            fits = who.get(job, ())
            found += [Intent(p, OPENED, job, f"open {day}", about=0 if fits else 1) for p in fits or managers]
    return found


def moved(before: date, after: date) -> bool:
    """A move of a date that is news: by two days or more, or into, out of or over a weekend."""
    return abs((after - before).days) >= 2 or (before.weekday() >= 5) != (after.weekday() >= 5)


def window(work: Work, now: int, known: Known) -> Iterator[Intent]:
    """A window comes: told when two successive forecasts agree on its day, taken back once if the newest has none.

    It goes where the newest forecast, made before the window was to begin, has none or a later day; an earlier one says
    nothing of it. A window that was not told yet is not taken back; it is only told no more."""
    if work.state != "open" or not work.forecasts:
        return
    newest = work.forecasts[0]
    for person in work.workers:
        told = [basis for basis, _ in known.bases(person, WINDOW, work.id, "window ")]
        if newest.starts is not None and newest.ends is not None and newest.ends > now and _agreed(work.forecasts):
            prefix = f"window {newest.day} "
            basis = next((basis for basis in told if basis.startswith(prefix)), f"{prefix}{newest.starts}")
            yield Intent(person, WINDOW, work.id, basis, _weight(newest.starts, now))
        for basis, left in known.bases(person, WINDOW, work.id, "window "):
            _, day, starts = basis.split()
            gone = newest.day is None or newest.day > date.fromisoformat(day)
            if left and gone and newest.issued < int(starts):
                yield Intent(person, WINDOW_GONE, work.id, basis, _weight(int(starts), now))


def _agreed(forecasts: Sequence[Forecast]) -> bool:
    """The two newest forecasts have a window on one day and share at least half of the shorter."""
    if len(forecasts) < 2:
        return False
    newest, before = forecasts[:2]
    if newest.starts is None or newest.ends is None or before.starts is None or before.ends is None:
        return False
    shared = min(newest.ends, before.ends) - max(newest.starts, before.starts)
    shorter = min(newest.ends - newest.starts, before.ends - before.starts)
    return newest.issued != before.issued and newest.day == before.day and shared * 2 >= shorter > 0


def _weight(begins: int | None, now: int) -> str:
    return CALL if begins is not None and begins - now < SOON else NEWS


def last_day(work: Work, now: int, known: Known, managers: Sequence[int]) -> Iterator[Intent]:
    """The latest start lies within a week and the work is not begun: the managers and those it was given to hear."""
    if work.state not in NOT_BEGUN or work.aside or work.late is None or work.late_day is None:
        return
    if not work.late - LAST_DAYS * DAY <= now <= work.late:
        return
    for person in _with_given(work, managers):
        day = _told_day(known, person, LAST_DAY, work.id, "last ", work.late_day)
        yield Intent(person, LAST_DAY, work.id, f"last {day}")


def assigned(work: Work, now: int, known: Known) -> Iterator[Intent]:
    """An assignment was given, moved to another day, or taken away from somebody who had been told of it.

    Who did it is not told; a day that is over is no news."""
    if work.state not in NOT_OVER:
        return
    for given in work.given:
        if given.day_end is not None and given.day_end <= now:
            continue
        for person in sorted(given.people):
            if given.active and person != given.by:
                day = given.day.isoformat() if given.day else "-"
                basis = f"given {given.id} {day} {given.starts or ''}".rstrip()
                yield Intent(person, ASSIGNED, work.id, basis, _weight(given.starts, now), given.id)
            elif not given.active and person != given.ended_by and _was_told(known, person, work.id, given.id):
                yield Intent(person, ASSIGNED, work.id, f"ended {given.id}", _weight(given.starts, now), given.id)


def _was_told(known: Known, person: int, job: int, given: int) -> bool:
    return known.left(person, ASSIGNED, job, f"given {given} ")


def look_due(work: Work, now: int, known: Known) -> Iterator[Intent]:
    """Somebody has to go and look before it can go on; a prediction alone opens nothing (D6)."""
    if work.state != "held" or work.look is None or work.look_day is None or work.look > now:
        return
    for person in work.workers:
        day = _told_day(known, person, LOOK, work.id, "look ", work.look_day)
        yield Intent(person, LOOK, work.id, f"look {day}")


def overdue(work: Work, now: int, managers: Sequence[int]) -> Iterator[Intent]:
    """An assigned day passed without a report, or work was begun and never ended: the person, next day the managers."""
    if work.state not in NOT_OVER:
        return
    for given in work.given:
        start, end, next_end = given.day_start, given.day_end, given.next_end
        if not given.active or start is None or end is None or next_end is None:
            continue
        heard = work.heard_at is not None and work.heard_at >= start
        if not heard and end <= now < end + OVERDUE_DAYS * DAY:
            for person in sorted(given.people | (set(managers) if next_end <= now else set())):
                yield Intent(person, OVERDUE, work.id, f"day {given.id} {given.day}", about=given.id)
    begun = work.begun
    if begun is not None and work.state == "under_way" and begun.day_end <= now:
        for person in sorted({begun.person} | (set(managers) if begun.next_end <= now else set())):
            yield Intent(person, OVERDUE, work.id, f"begun {begun.report}")


def tell_first(work: Work, now: int, managers: Sequence[int]) -> Iterator[Intent]:
    """Somebody outside is to be told before the assigned hour or day; the managers and those who go are reminded.

    From a day before that moment on, so that the evening before it carries it; by a call where it has passed already.
    The reminder names them; nothing goes to them by itself."""
    if work.state not in NOT_OVER:
        return
    for given in work.given:
        if not given.active or given.starts is None or given.day_end is None or given.day_end <= now:
            continue
        for lead in sorted({tell.lead for tell in work.tells}):
            if given.starts - lead - DAY <= now:
                ids = ".".join(str(tell.id) for tell in work.tells if tell.lead == lead)
                basis = f"tell {given.id} {given.starts} {lead} {ids}"[:LONGEST_BASIS]
                for person in sorted(given.people | set(managers)):
                    weight = CALL if given.starts - lead <= now else NEWS
                    yield Intent(person, TELL_FIRST, work.id, basis, weight, given.id)


def stock(
    material: int, counted: float | None, uses: Iterable[Use], today: date, known: Known, managers: Sequence[int]
) -> list[Intent]:
    """The stock does not last for the jobs of the next two weeks; the day of the first that goes short is the basis.

    A stock that was never counted is not known, and says nothing here."""
    short = first_short(counted, uses, today)
    if short is None:
        return []
    prefix = f"material {material} "
    found = []
    for person in managers:
        day = _told_day(known, person, STOCK, 0, prefix, short.day)
        found.append(Intent(person, STOCK, 0, f"{prefix}{day}", about=material))
    return found


def within(uses: Iterable[Use], today: date) -> list[Use]:
    """The uses of the next two weeks in the order of instants."""
    return sorted((use for use in uses if (use.day - today).days <= STOCK_DAYS), key=lambda use: (use.at, use.job))


def first_short(counted: float | None, uses: Iterable[Use], today: date) -> Use | None:
    """The first use within two weeks that the stock does not cover, used up in the order of instants."""
    if counted is None:
        return None
    left = counted
    for use in within(uses, today):
        left -= use.amount
        if left < -1e-9:
            return use
    return None


def alarms(check_ins: Iterable[CheckIn], now: int, crew: Mapping[int, Sequence[int]]) -> list[Intent]:
    """A call of somebody who works alone is overdue: all others of `crew` of that job hear at once."""
    return [
        Intent(person, ALARM_KIND, one.job, f"check-in {one.id}", ALARM, one.person)
        for one in sorted(check_ins, key=lambda one: (one.due, one.id))
        if one.due + GRACE_MIN <= now
        for person in sorted(set(crew.get(one.job, ())) - {one.person})
    ]


def _with_given(work: Work, managers: Sequence[int]) -> list[int]:
    return sorted({person for given in work.given if given.active for person in given.people} | set(managers))


def _told_day(known: Known, person: int, kind: str, job: int, prefix: str, day: date) -> str:
    """The day as it was told last, unless it moved so far that it is news."""
    told = [basis for basis, _ in known.bases(person, kind, job, prefix)]
    if told:
        before = date.fromisoformat(told[-1].split()[-1])
        if not moved(before, day):
            return before.isoformat()
    return day.isoformat()
