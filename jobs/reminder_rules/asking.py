"""All rules about one job, and when they would answer otherwise."""

from __future__ import annotations

from collections.abc import Sequence

from jobs.reminder_rules import rules
from jobs.reminder_rules.data import Intent, Known, Work

FAR = 1 << 40


def news(work: Work, now: int, known: Known, managers: Sequence[int]) -> list[Intent]:
    """What is news about a job at `now`, all that still waits or left included: the same facts give the same news."""
    return [
        *rules.window(work, now, known),
        *rules.last_day(work, now, known, managers),
        *rules.assigned(work, now, known),
        *rules.look_due(work, now, known),
        *rules.overdue(work, now, managers),
        *rules.tell_first(work, now, managers),
    ]


def next_instant(work: Work, now: int) -> int:
    """The next instant after `now` at which `news` differs with equal facts, or FAR."""
    instants = []
    if work.late is not None:
        instants += [work.late - rules.LAST_DAYS * rules.DAY, work.late + 1]
    if work.look is not None:
        instants.append(work.look)
    for given in work.given:
        if given.active and given.starts is not None:
            instants += [given.starts - tell.lead - rules.DAY for tell in work.tells]
        if given.day_end is not None:
            instants += [given.day_end, given.next_end or FAR, given.day_end + rules.OVERDUE_DAYS * rules.DAY]
    if work.begun is not None:
        instants += [work.begun.day_end, work.begun.next_end]
    instants += [forecast.ends for forecast in work.forecasts if forecast.ends is not None]
    return min((instant for instant in instants if instant > now), default=FAR)
