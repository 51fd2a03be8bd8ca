"""The outbox: a reminder is a row on its way to a person."""

import uuid

from django.db import models
from django.db.models import Q

from core.models.base import HoldingRow, one_of
from core.models.people import Person, Way, WayKind


class NoticeState(models.TextChoices):
    QUEUED = "queued"
    CLAIMED = "claimed"
    SENT = "sent"
    FOLDED = "folded"
    WITHDRAWN = "withdrawn"
    PARKED = "parked"


class NoticeWeight(models.TextChoices):
    """News waits for the person's evening message; a call goes by itself outside quiet hours and within the day's
    limit; an alarm goes at once and knows neither."""

    NEWS = "news"
    CALL = "call"
    ALARM = "alarm"


class Notice(HoldingRow):
    """One reminder for one person by one way.

    `basis` says what made it news, so that the same news is one row however often it is computed. A sender claims the
    row by a lease (`claim_token`, `claimed_until`), sends outside any transaction and marks under that token. News of
    one evening is folded into one notice of its own (`folded_into`), which is what is sent.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    way = models.ForeignKey(Way, on_delete=models.SET_NULL, null=True, related_name="+")
    way_kind = models.CharField(max_length=8, choices=WayKind.choices)
    kind = models.CharField(max_length=24)
    job_id = models.BigIntegerField(default=0)
    basis = models.CharField(max_length=120)
    weight = models.CharField(max_length=8, choices=NoticeWeight.choices, default=NoticeWeight.CALL)
    folded_into = models.ForeignKey("self", on_delete=models.SET_NULL, null=True, blank=True, related_name="folded")
    payload = models.JSONField(default=dict)
    created_at = models.DateTimeField()
    due_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=NoticeState.choices, default=NoticeState.QUEUED)
    claim_token = models.UUIDField(null=True, blank=True)
    claimed_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.CharField(max_length=200, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    message_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "kind", "job_id", "basis", "way"], name="notice_news_once"),
            one_of("state", NoticeState, "notice_state_known"),
            one_of("way_kind", WayKind, "notice_way_known"),
            one_of("weight", NoticeWeight, "notice_weight_known"),
        ]
        indexes = [
            # the sweep's look for due rows
            models.Index(fields=["due_at"], name="notice_due", condition=Q(state__in=["queued", "claimed"])),
            models.Index(fields=["holding", "job_id"], name="notice_job"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} to {self.person_id} ({self.state})"


class Heartbeat(models.Model):
    """When a recurring piece of work last ended well; its age tells whether the house is alive."""

    SWEEP = "sweep"

    name = models.SlugField(max_length=40, primary_key=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name} at {self.at}"
