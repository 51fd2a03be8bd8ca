"""Whether the background keeps up."""

from datetime import datetime, timedelta

from django.db.models import Max, Min

from core.models import Graph, Heartbeat, Notice, NoticeState, NoticeWeight

LATE_S = 120
"""Two sweeps and a sending: a reminder that waits longer means that nobody sends."""


def health_at(now: datetime) -> dict[str, object]:
    """Ages in whole seconds, null where there is none yet. Holdings whose clock stands do not count.

    `last_sweep_s` since a sweep last ended well, `oldest_due_s` the reminder that is due the longest and not sent,
    `last_walk_s` since the last walk of any holding, `parked` reminders that wait for a manager.
    `status` is "late" when no sweep ended well within two minutes, or a reminder waits longer than that, else "ok".
    """
    waiting = Notice.objects.filter(
        state__in=[NoticeState.QUEUED, NoticeState.CLAIMED], due_at__lte=now, holding__clock_at=None
    ).exclude(weight=NoticeWeight.NEWS)  # news waits for its person's evening
    due = waiting.aggregate(at=Min("due_at"))["at"]
    walked = Graph.objects.filter(holding__clock_at=None).aggregate(at=Max("walked_at"))["at"]
    oldest = None if due is None else int((now - due).total_seconds())
    age = last_sweep_age(now)
    swept = None if age is None else int(age.total_seconds())
    good = swept is not None and swept <= LATE_S and (oldest is None or oldest <= LATE_S)
    return {
        "status": "ok" if good else "late",
        "last_sweep_s": swept,
        "oldest_due_s": oldest,
        "last_walk_s": None if walked is None else int((now - walked).total_seconds()),
        "parked": Notice.objects.filter(state=NoticeState.PARKED, holding__clock_at=None).count(),
    }


def parked_count(holding_id: int) -> int:
    """Reminders of the holding that were given up until a manager looks at them."""
    return Notice.objects.filter(holding_id=holding_id, state=NoticeState.PARKED).count()


def last_sweep_at() -> datetime | None:
    """When a sweep of the outbox last ended well, by the real clock; None if none ever did.

    This tells whether a worker works. That one answers does not."""
    return Heartbeat.objects.filter(name=Heartbeat.SWEEP).values_list("at", flat=True).first()


def last_sweep_age(now: datetime) -> timedelta | None:
    """How long ago that was; None if never."""
    at = last_sweep_at()
    return None if at is None else now - at
