"""What the walk computed: derived, never edited, thrown away and computed again at will."""

from django.db import models

from core.models import HoldingRow, one_of
from jobs.models.plan import Job


class JobState(models.TextChoices):
    DONE = "done"
    CALLED_OFF = "called_off", "called off"
    UNDER_WAY = "under_way", "under way"
    NOT_CALLED_FOR = "not_called_for", "not called for"
    LAPSED = "lapsed"
    HELD = "held"
    OPEN = "open"


class Reckoning(HoldingRow):
    """One row a job. Instants are null where unknown or without deadline; `slack_min` is null without a deadline.

    `holds` are codes with facts; sentences and units are made on reading. `detail` carries the chain behind the dates
    and, for a job that is too late, what broke and the ways out. `windows` are the hours in which weather lets the job
    go, from the first instant of the holding's day on; null where they are not asked for.
    """

    job = models.OneToOneField(Job, on_delete=models.CASCADE, primary_key=True, related_name="reckoning")
    state = models.CharField(max_length=16, choices=JobState.choices)
    earliest_start = models.DateTimeField(null=True)
    earliest_finish = models.DateTimeField(null=True)
    latest_start = models.DateTimeField(null=True)
    latest_finish = models.DateTimeField(null=True)
    slack_min = models.BigIntegerField(null=True)
    critical = models.BooleanField(default=False)
    last_chance = models.DateTimeField(null=True)
    look_by = models.DateTimeField(null=True)
    next_window = models.DateTimeField(null=True)
    acres_done = models.FloatField(default=0)
    acres_left = models.FloatField(null=True)
    finished_at = models.DateTimeField(null=True)
    holds = models.JSONField(default=list)
    detail = models.JSONField(default=dict)
    windows = models.JSONField(null=True)
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [one_of("state", JobState, "reckoning_state_known")]
        indexes = [
            # of the next lists: what is open or under way, and what is held until a day of this week
            models.Index(
                fields=["holding"], name="reckoning_listed", condition=models.Q(state__in=["open", "under_way"])
            ),
            models.Index(fields=["holding", "earliest_start"], name="reckoning_soon", condition=models.Q(state="held")),
            models.Index(fields=["holding", "changed_at"], name="reckoning_changed"),
        ]

    def __str__(self) -> str:
        return f"{self.job_id} {self.state}"
