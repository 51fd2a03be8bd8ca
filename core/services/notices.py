"""The outbox: claim due notices, send them, mark them. The row is the reminder; a broker only rings.

Many rows are claimed by one conditional update that writes a token and a lease. They are sent outside any transaction,
through one sender for each kind of way, and each is marked under the token as soon as it is sent, before the next. A
sender killed in between leaves a lease that runs out, and the rows go again under the same message ids: no reminder is
lost, and only the one that was under way may go twice, under one id.
"""

import logging
import time
import uuid
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection, transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from core.delivery import Message, Permanent, Sender, Temporary, sender_of
from core.delivery.text import rendered
from core.evening_text import HOW_TO_ANSWER
from core.models import Heartbeat, Notice, NoticeState, NoticeWeight, WayKind
from core.services.evening import fold_due

logger = logging.getLogger("readyground.notices")

LEASE = timedelta(seconds=180)
"""Of a claim. A third of it is for beginning to send what was claimed, the rest is longer than the slowest send: about
ten steps of a mail, each given EMAIL_TIMEOUT."""
AT_ONCE = 50
"""So many rows are claimed together."""
ALONE_AFTER = 4
"""A row tried so often is claimed by itself: if it ends its senders, it ends them alone from then on, and the rows that
were claimed beside it are not given up for it."""
MOST_ATTEMPTS = 8
BATCH = 500
"""Jobs that one look for known notices asks about."""
ANSWERED_BY = frozenset({WayKind.WEBHOOK.value})
"""Kinds of ways by which answers come back: a gateway brings them. Mail, files and the console have no way in."""
STOPPED = "The person stopped this way."
UNHEARD = "An alarm, and the person stopped this way: nobody hears of it here."


@dataclass(frozen=True, slots=True)
class Swept:
    """What a sweep did, in notices. `overtaken`: sent, but the lease had run out and another sender has the row;
    `withdrawn`: its way was stopped."""

    sent: int = 0
    again: int = 0
    parked: int = 0
    overtaken: int = 0
    withdrawn: int = 0


@dataclass(frozen=True, slots=True)
class Claimed:
    """What sending a notice needs of it, its person and its way; a row of its own, as a model costs more than its mail.

    The fields stand in the order of `COLUMNS`."""

    pk: int
    claim_token: UUID
    attempts: int
    last_error: str
    way_kind: str
    way_id: int | None
    job_id: int
    payload: Mapping[str, Any]
    created_at: datetime
    message_id: UUID
    name: str
    active: bool
    address: str | None
    stopped_at: datetime | None
    weight: str


COLUMNS = (
    "pk", "claim_token", "attempts", "last_error", "way_kind", "way_id", "job_id", "payload", "created_at",
    "message_id", "person__name", "person__active", "way__address", "way__stopped_at", "weight",
)  # fmt: skip


def backoff(attempts: int) -> timedelta:
    """How long to wait after the nth failure: 30 s, 1 min, 2 min ... at most an hour."""
    return min(timedelta(seconds=30 << (attempts - 1)), timedelta(hours=1))


def sweep(
    *,
    limit: int = 1000,
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
    fold_due(now=now)
    done: Counter[str] = Counter()
    taken = 0
    with _kept_open(sender_for) as sender:
        while taken < limit and time.monotonic() < stop:
            rows = _claim(now=now, most=min(AT_ONCE, limit - taken))
            if not rows:
                break
            taken += len(rows)
            with _light_marks():
                done += _deliver(rows, sender, stop)
    Heartbeat.objects.update_or_create(name=Heartbeat.SWEEP, defaults={"at": timezone.now()})
    return Swept(**{word: done[word] for word in Swept.__slots__})


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
                known.attempts, known.claimed_until = 0, None
                again.append(known)
    renewed = ["state", "weight", "payload", "created_at", "due_at", "attempts", "claimed_until"]
    Notice.objects.bulk_update(again, renewed, batch_size=BATCH)
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


def _due(now: datetime, at: datetime) -> QuerySet[Notice]:
    """Notices that are due and that nobody holds, the oldest first: waiting ones whose pause is over, and claimed ones
    whose lease ran out."""
    due = Q(holding__clock_at=None, due_at__lte=now) | Q(due_at__lte=F("holding__clock_at"))
    # The state goes first and as it stands in the partial index; SQLite uses that for no other wording.
    free = Notice.objects.filter(state__in=[NoticeState.QUEUED, NoticeState.CLAIMED])
    free = free.filter(Q(claimed_until=None) | Q(claimed_until__lte=at)).exclude(weight=NoticeWeight.NEWS)
    return free.filter(due).order_by("due_at", "id")


def _claim(*, now: datetime, most: int) -> list[Claimed]:
    """Take up to so many due notices for one lease, by kind of way, then the oldest first; none if none are free.

    The update asks again whether each is free, so two claims never take the same row; where rows can be locked, a claim
    passes over those that another one is taking at this moment."""
    at, token = timezone.now(), uuid.uuid4()
    with transaction.atomic():
        due = _due(now, at).select_for_update(skip_locked=True, no_key=True, of=("self",))
        picked = list(due.values_list("pk", "attempts")[:most])
        if picked and picked[0][1] >= ALONE_AFTER:
            picked = picked[:1]
        else:
            picked = [row for row in picked if row[1] < ALONE_AFTER]
        free = Notice.objects.filter(
            Q(claimed_until=None) | Q(claimed_until__lte=at), state__in=[NoticeState.QUEUED, NoticeState.CLAIMED]
        )
        free.filter(pk__in=[pk for pk, _ in picked]).update(
            state=NoticeState.CLAIMED, claim_token=token, claimed_until=at + LEASE, attempts=F("attempts") + 1
        )
    mine = Notice.objects.filter(claim_token=token, pk__in=[pk for pk, _ in picked])
    return [Claimed(*row) for row in mine.order_by("way_kind", "due_at", "id").values_list(*COLUMNS)]


def _deliver(rows: Sequence[Claimed], sender: Callable[[str], Sender], stop: float) -> Counter[str]:
    """Send claimed notices and mark each; those not begun in time go back as if never claimed. Counts by `Swept`."""
    until = timezone.now() + LEASE / 3
    done: Counter[str] = Counter()
    for place, notice in enumerate(rows):
        if time.monotonic() >= stop or timezone.now() >= until:
            _give_back(rows[place:])
            break
        done[_send(notice, sender(notice.way_kind))] += 1
    return done


@contextmanager
def _kept_open(sender_for: Callable[[str], Sender]) -> Iterator[Callable[[str], Sender]]:
    """One sender for each kind of way, made when first asked for and closed at the end."""
    made: dict[str, Sender] = {}

    def sender(kind: str) -> Sender:
        if kind not in made:
            made[kind] = sender_for(kind)
        return made[kind]

    try:
        yield sender
    finally:
        for one in made.values():
            one.close()


@contextmanager
def _light_marks() -> Iterator[None]:
    """Write marks on SQLite without waiting for the disk at each.

    They outlive the end of this process all the same. A power cut may take back the last of them, never one in the
    middle, and then those mails go again under the same id: what a lost mark costs, and never a lost mail."""
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous=NORMAL")
        try:
            yield
        finally:
            cursor.execute("PRAGMA synchronous=FULL")


def _give_back(rows: Sequence[Claimed]) -> None:
    mine = Notice.objects.filter(pk__in=[row.pk for row in rows], claim_token=rows[0].claim_token)
    mine.filter(state=NoticeState.CLAIMED).update(
        state=NoticeState.QUEUED, claim_token=None, claimed_until=None, attempts=F("attempts") - 1
    )


def _send(notice: Claimed, sender: Sender) -> str:
    """Send a claimed notice and mark it. Returns the word of `Swept` that counts it."""
    try:
        if notice.stopped_at is not None and notice.weight == NoticeWeight.ALARM:
            raise Permanent(UNHEARD)  # parked, where a manager sees it
        if notice.stopped_at is not None:
            return _mark(notice, "withdrawn", NoticeState.WITHDRAWN, error=STOPPED)
        if notice.attempts > MOST_ATTEMPTS:  # each earlier try ended with its sender
            raise Permanent(notice.last_error or f"Its sender ended before it was sent, {MOST_ATTEMPTS} times.")
        sender.send(_message(notice))
    except Permanent as error:
        return _mark(notice, "parked", NoticeState.PARKED, error=str(error))
    except Exception as error:
        # What a library says may quote an address; only its kind is kept.
        said = str(error) if isinstance(error, Temporary) else f"Unexpected {type(error).__name__}."
        if notice.attempts >= MOST_ATTEMPTS:
            return _mark(notice, "parked", NoticeState.PARKED, error=said)
        asked = error.after if isinstance(error, Temporary) else None
        pause = max(backoff(notice.attempts), asked or timedelta(0))
        return _mark(notice, "again", NoticeState.QUEUED, error=said, until=timezone.now() + pause)
    return _mark(notice, "sent", NoticeState.SENT, sent_at=timezone.now())


def _message(notice: Claimed) -> Message:
    if not notice.active:
        raise Permanent("The person is no longer active in the holding.")
    try:
        title, body = rendered(notice.payload)
    except ValueError as error:
        raise Permanent(f"It cannot be put into words: {error}.") from error
    if notice.payload.get("jobs") and notice.way_kind in ANSWERED_BY:
        body += f"{HOW_TO_ANSWER}\n"
    events = notice.payload.get("events")
    return Message(
        id=notice.message_id,
        name=notice.name,
        address=notice.address or "",
        title=title,
        body=body,
        way=notice.way_id,
        jobs=tuple(jobs_of(notice)),
        events=[event for event in events if isinstance(event, dict)] if isinstance(events, list) else (),
        made_at=notice.created_at,
    )


def jobs_of(notice: Notice | Claimed) -> list[int]:
    """The jobs that a notice is about, in the order of the numbers in its text; a lone one needs no number."""
    listed = notice.payload.get("jobs")
    if isinstance(listed, list):
        return [job for job in listed if isinstance(job, int) and not isinstance(job, bool)]
    return [notice.job_id] if notice.job_id else []


MARK = """
UPDATE core_notice SET state = %s, claim_token = NULL, claimed_until = %s, last_error = %s, sent_at = %s
WHERE id = %s AND claim_token = %s AND state = 'claimed'
"""


def _mark(
    notice: Claimed,
    word: str,
    state: NoticeState,
    *,
    error: str = "",
    until: datetime | None = None,
    sent_at: datetime | None = None,
) -> str:
    """Write the end of a try under the claim's token; a claim that ran out and was taken over stays the other's.

    It is one statement, written out: composing it anew takes longer than running it."""
    instant = connection.ops.adapt_datetimefield_value
    token = notice.claim_token if connection.features.has_native_uuid_field else notice.claim_token.hex
    with connection.cursor() as cursor:
        cursor.execute(MARK, [state.value, instant(until), error[:200], instant(sent_at), notice.pk, token])
        if not cursor.rowcount:
            word = "overtaken"
    if word != "sent":
        logger.warning("Notice %s, try %s: %s. %s", notice.pk, notice.attempts, word, error[:200])
    return word
