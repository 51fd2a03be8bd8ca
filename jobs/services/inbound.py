"""Take the answer that somebody sent to a reminder."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256

from django.db import transaction
from django.utils import timezone

from core.clock import now_at
from core.errors import Refused
from core.models import Event, Notice, NoticeState, Way
from core.services.facts import lock_graph
from core.services.notices import jobs_of
from core.services.rows import log
from core.services.ways import stop_way
from jobs.models import Job, ReportKind
from jobs.reply_words import HELP_TEXT, Reply, Unclear, Word, understood
from jobs.services.reports import NewReport, store_report

ANSWERED = "answered"
KEPT = timedelta(days=60)
"""So long a message is known again by its id and answered alike; its report is known by that id for ever."""
OLD = timedelta(days=21)
"""What was sent longer ago is not what a short answer is about (a setting of ours)."""
MOST_AN_HOUR = 120

WHICH = 'The last message was about several jobs. Put the number first, like "{place} {word}". Nothing was changed.'
NONE_SENT = "No message of the last three weeks was about a job. Nothing was changed."
NO_SUCH = "The last message has no number {place}; it goes from 1 to {count}. Nothing was changed."
STOPPED = "Stopped. Nothing more comes to this address; a manager can list it again."
KINDS = {
    Word.START: (ReportKind.START, "begun"),
    Word.DONE: (ReportKind.DONE, "done"),
    Word.NO: (ReportKind.COULD_NOT, "could not be done"),
    Word.SKIP: (ReportKind.SKIPPED, "skipped"),
}


@dataclass(frozen=True, slots=True)
class Answered:
    """What goes back to the person, and whether anything was stored."""

    reply: str
    changed: bool


class TooMany(Exception):
    """The way sent more in an hour than people do."""


def take_answer(*, way: Way, message: str, text: str) -> Answered:
    """Do what a message says, once: the same message again gets the same answer and changes nothing.

    `message` is the gateway's id of it. A text that is not plain, or is about no job that can be told, changes nothing
    and gets a sentence. The report's client_id is made from the id, so a message is one report for ever.

    Raises:
        Refused: the id was used for another text (code "other_content").
        TooMany: the way sent too many within an hour.
    """
    digest = sha256(text.encode()).hexdigest()
    with transaction.atomic():
        lock_graph(way.holding_id)  # the same message at the same moment waits here
        came = Event.objects.filter(
            holding_id=way.holding_id,
            at__gte=timezone.now() - KEPT,
            verb=ANSWERED,
            object="way",
            object_id=way.pk,
        )
        known = came.filter(change__message=message).order_by("id").first()
        if known is not None:
            if known.change["sha256"] != digest:
                raise Refused(
                    "A message with this id came before and says something else.", code="other_content", field="id"
                )
            return Answered(known.change["reply"], known.change["changed"])
        if came.filter(at__gte=timezone.now() - timedelta(hours=1)).count() >= MOST_AN_HOUR:
            raise TooMany
        done = _done(way, message, understood(text))
        change = {"message": message, "sha256": digest, "reply": done.reply, "changed": done.changed}
        log(holding_id=way.holding_id, by=way.person, verb=ANSWERED, row=way, change=change)
        return done


def _done(way: Way, message: str, meant: Reply | Unclear) -> Answered:
    if isinstance(meant, Unclear):
        return Answered(meant.sentence, False)
    if meant.word is Word.HELP:
        return Answered(HELP_TEXT, False)
    if meant.word is Word.STOP:
        return Answered(STOPPED, stop_way(way=way, now=timezone.now()))
    now = now_at(way.holding)
    job = _job(way, meant, now)
    if isinstance(job, str):
        return Answered(job, False)
    kind, said = KINDS[meant.word]
    new = NewReport(
        client_id=uuid.uuid5(uuid.NAMESPACE_URL, f"readyground:way:{way.pk}:{message}"),
        kind=kind,
        happened_at=now,
        job=job,
        acres=meant.acres,
        reason=meant.reason,
        note=meant.said,
    )
    try:
        with transaction.atomic():
            receipt = store_report(person=way.person, new=new, now=now)
    except Refused as error:
        return Answered(f"{error.sentence} Nothing was changed.", False)
    title, plot = Job.objects.values_list("title", "plot__name").get(pk=job)
    acres = f", {meant.acres:.4g} ac" if meant.acres is not None else ""
    return Answered(" ".join([f"Stored: {title}, {plot}: {said}{acres}.", *receipt["clashes"]]), True)


def _job(way: Way, meant: Reply, now: datetime) -> int | str:
    """The job that an answer is about: of the last message about jobs that went this way, its only one or the one of
    the number; else the sentence that says why none."""
    sent = Notice.objects.filter(way=way, state=NoticeState.SENT, due_at__gte=now - OLD).order_by("-sent_at", "-id")
    jobs = next((listed for notice in sent[:50] if (listed := jobs_of(notice))), [])
    if not jobs:
        return NONE_SENT
    if meant.place is not None:
        return jobs[meant.place - 1] if meant.place <= len(jobs) else NO_SUCH.format(place=meant.place, count=len(jobs))
    return jobs[0] if len(jobs) == 1 else WHICH.format(place=len(jobs), word=meant.word.value.upper())
