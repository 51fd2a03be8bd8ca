"""Whether the background keeps up."""

from datetime import datetime

from django.db.models import Max, Min

from core.models import Graph, Notice, NoticeState

LATE_S = 120
"""Two sweeps and a sending: a reminder that waits longer means that nobody sends."""


def health_at(now: datetime) -> dict[str, object]:
    """Ages in whole seconds, null where there is none yet. Holdings whose clock stands do not count.

    `oldest_due_s` the reminder that is due the longest and not sent, `last_walk_s` since the last walk of any holding;
    `status` is "late" when the first is above two minutes, else "ok".
    """
    waiting = Notice.objects.filter(
        state__in=[NoticeState.QUEUED, NoticeState.CLAIMED], due_at__lte=now, holding__clock_at=None
    )
    due = waiting.aggregate(at=Min("due_at"))["at"]
    walked = Graph.objects.filter(holding__clock_at=None).aggregate(at=Max("walked_at"))["at"]
    oldest = None if due is None else int((now - due).total_seconds())
    return {
        "status": "late" if oldest is not None and oldest > LATE_S else "ok",
        "oldest_due_s": oldest,
        "last_walk_s": None if walked is None else int((now - walked).total_seconds()),
    }
