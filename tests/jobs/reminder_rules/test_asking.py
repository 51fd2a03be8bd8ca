"""The instants at which news changes by the clock alone: between two of them nothing does (D17)."""

import random

from jobs.reminder_rules import Begun, Forecast, Known, Tell, Work, news, next_instant
from tests.jobs.reminder_rules.days import DAY, day, given, minute


def random_work(dice: random.Random) -> Work:
    def number() -> int:
        return dice.randrange(0, 12)

    late, look, begun, first = number(), number(), number(), number()
    tells = tuple(Tell(pk, dice.choice((60, 120, 1440, 2880))) for pk in range(dice.randrange(3)))
    hands = tuple(given(number(), dice.randrange(1, 4), pk=pk, hour=dice.randrange(0, 20)) for pk in range(1, 3))
    starts, ends = minute(first, 6), minute(first, 9)
    return Work(
        id=7,
        state=dice.choice(("open", "held", "under_way", "lapsed")),
        workers=(1, 2),
        late=minute(late, 12),
        late_day=day(late),
        look=minute(look),
        look_day=day(look),
        given=hands,
        tells=tells,
        begun=Begun(3, 2, minute(begun), minute(begun + 1)) if dice.random() < 0.5 else None,
        heard_at=minute(number()) if dice.random() < 0.5 else None,
        forecasts=(Forecast(5, starts, ends, day(first)), Forecast(4, starts, ends, day(first))),
    )


def test_between_two_instants_no_news_comes_or_goes_by_the_clock() -> None:
    dice, compared = random.Random(3), 0
    for _ in range(60):
        work, now = random_work(dice), minute(0) - 3 * DAY
        while now < minute(16):
            later = next_instant(work, now)
            keys = {one.key for one in news(work, now, Known(), (1,))}
            for between in (now + 1, dice.randrange(now, min(later, minute(30))), min(later, minute(30)) - 1):
                assert {one.key for one in news(work, min(between, later - 1), Known(), (1,))} == keys
                compared += 1
            now = later
    assert compared > 1_000


def test_a_job_that_nothing_will_change_asks_for_no_look() -> None:
    assert next_instant(Work(7, "open"), minute(0)) == 1 << 40
