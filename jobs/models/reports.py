"""What people said: assignments, reports, observations, overrides."""

from django.db import models
from django.db.models import Q

from core.models import Crew, HoldingRow, Person, before, one_of
from jobs.models.plan import Job, Season
from plots.models import Plot


class AssignmentState(models.TextChoices):
    ACTIVE = "active"
    ENDED = "ended"


class Assignment(HoldingRow):
    """A job given by hand to one person or one crew, perhaps for a day and hours.

    The database refuses one person twice at one time, also through a crew.
    """

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="assignments")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    day = models.DateField(null=True, blank=True)
    starts = models.TimeField(null=True, blank=True)
    ends = models.TimeField(null=True, blank=True)
    state = models.CharField(max_length=8, choices=AssignmentState.choices, default=AssignmentState.ACTIVE)
    made_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(person__isnull=False, crew__isnull=True) | Q(person__isnull=True, crew__isnull=False),
                name="assignment_one_of",
                violation_error_message="Give the job to one person or to one crew.",
            ),
            models.UniqueConstraint(
                fields=["job", "person"],
                name="assignment_person_once",
                condition=Q(state="active"),
                violation_error_message="The job is this person's already.",
            ),
            models.UniqueConstraint(
                fields=["job"],
                name="assignment_crew_once",
                condition=Q(state="active", crew__isnull=False),
                violation_error_message="The job is a crew's already.",
            ),
            before("starts", "ends", "assignment_order", "The hours end before they start.", or_null=True),
            models.CheckConstraint(
                condition=Q(starts__isnull=True, ends__isnull=True)
                | Q(starts__isnull=False, ends__isnull=False, day__isnull=False),
                name="assignment_hours_day",
                violation_error_message="Hours go with a day: give day, start and end.",
            ),
            one_of("state", AssignmentState, "assignment_state_known"),
        ]
        indexes = [models.Index(fields=["holding", "day"], name="assignment_day")]

    def fact_keys(self) -> set[str]:
        return {f"job:{self.job_id}"}

    def __str__(self) -> str:
        return f"{self.job_id} to {self.person_id or self.crew_id}"


class ReportKind(models.TextChoices):
    START = "start"
    DONE = "done"
    COULD_NOT = "could_not", "could not"
    SKIPPED = "skipped"
    STILL_TO_DO = "still_to_do", "still to do"
    SEEN = "seen"
    NOTE = "note"
    WITHDRAWN = "withdrawn"


class Report(HoldingRow):
    """What somebody saw or did, kept for ever under the id their phone made; the database refuses changes.

    `happened_at` is what the sender says, `received_at` our clock; `day_only` says that only the day is known. A report
    without a job is about a plot.
    """

    person = models.ForeignKey(Person, on_delete=models.RESTRICT, related_name="+")
    client_id = models.UUIDField()
    job = models.ForeignKey(Job, on_delete=models.RESTRICT, null=True, blank=True, related_name="reports")
    plot = models.ForeignKey(Plot, on_delete=models.RESTRICT, related_name="+")
    kind = models.CharField(max_length=12, choices=ReportKind.choices)
    outcome = models.CharField(max_length=30, blank=True)
    acres = models.FloatField(null=True, blank=True)
    reason = models.CharField(max_length=30, blank=True)
    done_by = models.CharField(max_length=80, blank=True, help_text="Somebody hired, by name.")
    note = models.TextField(blank=True)
    happened_at = models.DateTimeField()
    day_only = models.BooleanField(default=False)
    claimed_at = models.DateTimeField(
        null=True, blank=True, help_text="What the sender's clock said, where it ran ahead of ours."
    )
    received_at = models.DateTimeField()
    corrects = models.ForeignKey("self", on_delete=models.RESTRICT, null=True, blank=True, related_name="+")
    payload = models.JSONField(default=dict, blank=True)
    body_sha256 = models.CharField(max_length=64)
    receipt = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "client_id"], name="report_once"),
            models.CheckConstraint(
                condition=Q(acres__isnull=True) | Q(acres__gt=0),
                name="report_acres_positive",
                violation_error_message="Give acres above 0, or none.",
            ),
            one_of("kind", ReportKind, "report_kind_known"),
        ]
        indexes = [models.Index(fields=["job", "happened_at"], name="report_job_time")]

    def fact_keys(self) -> set[str]:
        return {f"job:{self.job_id}"} if self.job_id else {f"plot:{self.plot_id}"}

    def __str__(self) -> str:
        return f"{self.kind} {self.job_id or ''}".strip()


class Observation(HoldingRow):
    """Something seen on a plot: emerged, no emergence yet, a stand count, rain in the gauge."""

    plot = models.ForeignKey(Plot, on_delete=models.CASCADE, related_name="+")
    season = models.ForeignKey(Season, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    kind = models.CharField(max_length=30)
    at = models.DateTimeField()
    value = models.FloatField(null=True, blank=True)
    report = models.ForeignKey(Report, on_delete=models.RESTRICT, null=True, blank=True, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["plot", "kind"], name="observation_plot_kind")]

    def fact_keys(self) -> set[str]:
        return {f"plot:{self.plot_id}"}

    def __str__(self) -> str:
        return f"{self.kind} {self.at}"


class Override(HoldingRow):
    """A manager's written reason against a hold that may be overruled, or the end of one, with its last instant."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="overrides")
    rule = models.CharField(max_length=40)
    reason = models.CharField(max_length=200)
    person = models.ForeignKey(Person, on_delete=models.RESTRICT, related_name="+")
    at = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(reason=""), name="override_reason", violation_error_message="Write the reason."
            )
        ]

    def fact_keys(self) -> set[str]:
        return {f"job:{self.job_id}"}

    def __str__(self) -> str:
        return f"{self.rule} of {self.job_id}"
