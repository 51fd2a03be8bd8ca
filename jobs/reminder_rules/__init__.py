"""Who hears what: states and facts in, news out, with the instants at which more would be news. Pure.

`news` asks every rule about one job, `stock` about one material, `alarms` about people who work alone; `next_instant`
gives the next instant at which an answer changes although no fact did (D17). The walk stores the answers (D19).
"""

from jobs.reminder_rules.asking import news, next_instant
from jobs.reminder_rules.data import (
    ALARM_KIND,
    ASSIGNED,
    CALL,
    KINDS,
    LAST_DAY,
    LOOK,
    NEWS,
    OPENED,
    OVERDUE,
    STOCK,
    TELL_FIRST,
    WINDOW,
    WINDOW_GONE,
    Begun,
    CheckIn,
    Forecast,
    Free,
    Given,
    Hearer,
    Intent,
    Known,
    Tell,
    Use,
    Work,
)
from jobs.reminder_rules.hearing import fitting, hearers
from jobs.reminder_rules.rules import alarms, first_short, moved, opened, stock, within

__all__ = [
    "ALARM_KIND",
    "ASSIGNED",
    "CALL",
    "KINDS",
    "LAST_DAY",
    "LOOK",
    "NEWS",
    "OPENED",
    "OVERDUE",
    "STOCK",
    "TELL_FIRST",
    "WINDOW",
    "WINDOW_GONE",
    "Begun",
    "CheckIn",
    "Forecast",
    "Free",
    "Given",
    "Hearer",
    "Intent",
    "Known",
    "Tell",
    "Use",
    "Work",
    "alarms",
    "first_short",
    "fitting",
    "hearers",
    "moved",
    "news",
    "next_instant",
    "opened",
    "stock",
    "within",
]
