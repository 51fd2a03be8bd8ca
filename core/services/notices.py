"""The outbox: claim due notices, send them, mark them. The row is the reminder; a broker only rings.

Each row is claimed by a conditional update that writes a token and a lease, sent outside any transaction and marked
under that token. A sender killed in between leaves a lease that runs out, and the row goes again under the same message
id. So no reminder is lost, and one may go twice under one id.
"""

import logging
import time
import uuid
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from core.delivery import Message, Permanent, Sender, Temporary, sender_of
from core.delivery.text import rendered
from core.models import Heartbeat, Notice, NoticeState, NoticeWeight
from core.services.evening import fold_due

logger = logging.getLogger("readyground.notices")

LEASE = timedelta(seconds=120)
"""Longer than the slowest send: about ten steps of a mail, each given EMAIL_TIMEOUT."""
MOST_ATTEMPTS = 8
BATCH = 500
"""Jobs that one look for known notices asks about."""


@dataclass(frozen=True, slots=True)
class Swept:
    """What a sweep did, in notices. `overtaken`: sent, but the lease had run out and another sender has the row."""

    sent: int = 0
    again: int = 0
    parked: int = 0
    overtaken: int = 0


def backoff(attempts: int) -> timedelta:
    """How long to wait after the nth failure: 30 s, 1 min, 2 min ... at most an hour."""
    return min(timedelta(seconds=30 << (attempts - 1)), timedelta(hours=1))


def sweep(
    *,
    limit: int = 200,
    seconds: float = 25.0,
    now: datetime | None = None,
    sender_for: Callable[[str], Sender] = sender_of,
) -> Swept:
    """Send up to `limit` due notices, beginning none after `seconds`, and say that the sweep ended well.

    A notice is due when `due_at` has passed on its holding's clock: where that stands, there, else at `now`. Leases go
    by the real clock. Any number of sweeps may run at once. Machines whose clocks differ by more than the lease could
    send a notice twice, under one message id.
    """
    now = now or timezone.now()
    stop = time.monotonic() + seconds
    done = Swept()
    fold_due(now=now)
    due = Q(holding__clock_at=None, due_at__lte=now) | Q(due_at__lte=F("holding__clock_at"))
    free = _free(timezone.now()).exclude(weight=NoticeWeight.NEWS)
    picked = list(free.filter(due).order_by("due_at", "id").values_list("pk", flat=True)[:limit])
    for pk in picked:
        if time.monotonic() >= stop:
            break
        notice = _claim(pk)
        if notice is not None:
            what = _deliver(notice, sender_for)
            done = replace(done, **{what: getattr(done, what) + 1})
    Heartbeat.objects.update_or_create(name=Heartbeat.SWEEP, defaults={"at": timezone.now()})
    return done


def queue(*, holding_id: int, notices: Sequence[Notice]) -> int:
    """Put news into the outbox, in the caller's transaction: the same news is one row, however often it is computed.

    What was withdrawn before it left goes after all, with what is said now; what left does not go twice. Returns how
    many wait that did not before. Call it under the holding's graph lock."""
    fresh: dict[tuple[object, ...], Notice] = {}
    for notice in notices:
        fresh.setdefault(_news(notice), notice)
    jobs = sorted({notice.job_id for notice in fresh.values()})
    bases = sorted({notice.basis for notice in fresh.values()})
    again = []
    for start in range(0, len(jobs), BATCH):
        some = Notice.objects.filter(holding_id=holding_id, job_id__in=jobs[start : start + BATCH], basis__in=bases)
        for known in some.order_by("id"):
            now = fresh.pop(_news(known), None)
            if now is not None and known.state == NoticeState.WITHDRAWN:
                known.state, known.weight, known.payload = NoticeState.QUEUED, now.weight, now.payload
                known.created_at, known.due_at = now.created_at, now.due_at
                again.append(known)
    Notice.objects.bulk_update(again, ["state", "weight", "payload", "created_at", "due_at"], batch_size=BATCH)
    return len(again) + len(Notice.objects.bulk_create(fresh.values(), batch_size=BATCH))


def _news(notice: Notice) -> tuple[object, ...]:
    return notice.person_id, notice.kind, notice.job_id, notice.basis, notice.way_id


def withdraw(*, holding_id: int, kind: str, jobs: Iterable[int]) -> int:
    """Take back those notices of this kind about these jobs that still wait, in the caller's transaction.

    Returns how many were. A claimed notice is out of our hands."""
    about = Notice.objects.filter(holding_id=holding_id, kind=kind, job_id__in=list(jobs))
    return about.filter(state=NoticeState.QUEUED).update(state=NoticeState.WITHDRAWN)


def send_again(*, holding_id: int, ids: Iterable[int]) -> int:
    """Put parked notices back into the queue, once what parked them was put right. Returns how many were parked."""
    parked = Notice.objects.filter(holding_id=holding_id, pk__in=list(ids), state=NoticeState.PARKED)
    return parked.update(state=NoticeState.QUEUED, attempts=0, claimed_until=None, last_error="")


def _free(at: datetime) -> QuerySet[Notice]:
    """Notices that nobody holds: waiting ones whose pause is over, and claimed ones whose lease ran out."""
    return Notice.objects.filter(
        Q(claimed_until=None) | Q(claimed_until__lte=at), state__in=[NoticeState.QUEUED, NoticeState.CLAIMED]
    )


def _claim(pk: int) -> Notice | None:
    """Take the notice for one lease, or None if another sender was quicker or it was withdrawn meanwhile."""
    at, token = timezone.now(), uuid.uuid4()
    taken = _free(at).filter(pk=pk)
    if not taken.update(
        state=NoticeState.CLAIMED, claim_token=token, claimed_until=at + LEASE, attempts=F("attempts") + 1
    ):
        return None
    return Notice.objects.select_related("person", "way").filter(pk=pk, claim_token=token).first()


def _deliver(notice: Notice, sender_for: Callable[[str], Sender]) -> str:
    """Send a claimed notice and mark it. Returns the word of `Swept` that counts it."""
    try:
        if notice.attempts > MOST_ATTEMPTS:  # each earlier try ended with its sender
            raise Permanent(notice.last_error or f"Its sender ended before it was sent, {MOST_ATTEMPTS} times.")
        sender_for(notice.way_kind).send(_message(notice))
    except Permanent as error:
        return _mark(notice, "parked", state=NoticeState.PARKED, claimed_until=None, last_error=str(error)[:200])
    except Exception as error:
        # What a library says may quote an address; only its kind is kept.
        said = str(error) if isinstance(error, Temporary) else f"Unexpected {type(error).__name__}."
        if notice.attempts >= MOST_ATTEMPTS:
            return _mark(notice, "parked", state=NoticeState.PARKED, claimed_until=None, last_error=said[:200])
        pause = timezone.now() + backoff(notice.attempts)
        return _mark(notice, "again", state=NoticeState.QUEUED, claimed_until=pause, last_error=said[:200])
    return _mark(notice, "sent", state=NoticeState.SENT, claimed_until=None, last_error="", sent_at=timezone.now())


def _message(notice: Notice) -> Message:
    if not notice.person.active:
        raise Permanent("The person is no longer active in the holding.")
    try:
        title, body = rendered(notice.payload)
    except ValueError as error:
        raise Permanent(f"It cannot be put into words: {error}.") from error
    address = notice.way.address if notice.way else ""
    return Message(id=notice.message_id, name=notice.person.name, address=address, title=title, body=body)


def _mark(notice: Notice, word: str, **values: object) -> str:
    """Write the end of a try under the claim's token; a claim that ran out and was taken over stays the other's."""
    held = Notice.objects.filter(pk=notice.pk, claim_token=notice.claim_token, state=NoticeState.CLAIMED)
    if not held.update(claim_token=None, **values):
        word = "overtaken"
    if word != "sent":
        logger.warning("Notice %s, try %s: %s. %s", notice.pk, notice.attempts, word, values.get("last_error") or "")
    return word
