"""Stop a way to reach a person, because they asked for it."""

from datetime import datetime

from django.db import transaction

from core.delivery.signing import is_marked
from core.errors import NotFound
from core.models import Notice, NoticeState, Way
from core.services.rows import log

GONE = "This address stops nothing: the way it was for is gone or has another address now."


def way_to_stop(*, way_id: int, mark: str) -> Way:
    """The way behind a signed stop.

    Raises:
        NotFound: it is gone, or has another address than when the message went.
    """
    way = Way.objects.select_related("person", "holding").filter(pk=way_id).first()
    if way is None or not is_marked(way.address, mark):
        raise NotFound(GONE)
    return way


def stop_way(*, way: Way, now: datetime) -> bool:
    """Nothing goes this way from now on; what waits for it is withdrawn. Returns whether it was not stopped before."""
    with transaction.atomic():
        fresh = Way.objects.filter(pk=way.pk, stopped_at=None).update(stopped_at=now)
        waiting = Notice.objects.filter(way=way, state__in=[NoticeState.QUEUED, NoticeState.PARKED])
        waiting.update(state=NoticeState.WITHDRAWN)
        if fresh:
            log(holding_id=way.holding_id, by=way.person, verb="stopped", row=way, change={})
    return bool(fresh)
