"""Sequences and what they make on a plot: seasons, jobs, prerequisites, branches, needs."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from core.models import HoldingRow, before, one_of
from plots.models import Machine, Material, Plot


class Sequence(models.Model):
    """One version of a reusable set of field operations, kept whole as the document it was read from.

    A version is never edited: an edit makes the next one, checked whole by `jobs.sequences`. Shipped ones belong to no
    holding.
    """

    holding = models.ForeignKey("core.Holding", on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    key = models.SlugField(max_length=60)
    version = models.PositiveIntegerField(default=1)
    name = models.CharField(max_length=120)
    document = models.JSONField()
    retired = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["holding", "key", "version"], name="sequence_version_once"),
            models.UniqueConstraint(
                fields=["key", "version"], name="sequence_shipped_once", condition=Q(holding__isnull=True)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} (version {self.version})"


class Season(HoldingRow):
    """One application of a sequence version to a plot, of any length."""

    plot = models.ForeignKey(Plot, on_delete=models.CASCADE, related_name="seasons")
    sequence = models.ForeignKey(Sequence, on_delete=models.RESTRICT, null=True, related_name="+")
    label = models.CharField(max_length=60)
    year = models.PositiveSmallIntegerField()
    first_day = models.DateField()
    last_day = models.DateField()
    called_off_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["plot", "sequence", "label"],
                name="season_once",
                violation_error_message="This sequence is applied to the plot under this label already.",
            ),
            models.UniqueConstraint(
                fields=["plot", "label"],
                name="season_without_sequence_once",
                condition=Q(sequence__isnull=True),
                violation_error_message="The plot has a season of this label already.",
            ),
            before(
                "first_day",
                "last_day",
                "season_order",
                "The season ends before it starts. Give a last day on or after the first.",
                or_equal=True,
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"plot:{self.plot_id}"}

    def __str__(self) -> str:
        return f"{self.label} on {self.plot_id}"


class Round(HoldingRow):
    """Jobs done in one go: one spray over six plots."""

    operation = models.CharField(max_length=30)
    label = models.CharField(max_length=80)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["holding", "label"],
                name="round_label_once",
                violation_error_message="A round of this label is listed already.",
            )
        ]

    def __str__(self) -> str:
        return self.label


class Branch(HoldingRow):
    """A named set of jobs inside a season: one of several alternatives, or called for only after an outcome."""

    season = models.ForeignKey(Season, on_delete=models.CASCADE, related_name="branches")
    key = models.SlugField(max_length=60)
    name = models.CharField(max_length=120, blank=True)
    parent = models.ForeignKey("self", on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    group = models.CharField(max_length=60, blank=True)
    order = models.PositiveSmallIntegerField(default=0)
    opened_by = models.ForeignKey("Job", on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    outcomes = models.JSONField(default=list, blank=True)
    expected = models.BooleanField(default=False)
    called_off_at = models.DateTimeField(null=True, blank=True)
    option = models.JSONField(
        default=dict, blank=True, help_text="Of a replant: last sensible day, what closes it, source."
    )

    class Meta:
        verbose_name_plural = "branches"
        constraints = [
            models.UniqueConstraint(
                fields=["season", "key"],
                name="branch_key_once",
                violation_error_message="A branch of this key is in the season already.",
            )
        ]

    def fact_keys(self) -> set[str]:
        return {f"season:{self.season_id}"}

    def __str__(self) -> str:
        return self.name or self.key


class SkipEffect(models.TextChoices):
    SATISFIED = "satisfied"
    PASSED_OVER = "passed_over", "passed over"


class Job(HoldingRow):
    """One field operation on one plot in one season.

    `first_day` and `last_day` bound the work in local civil days, inclusive; `deadline` is the last day by which it
    must be finished, a bound that moves latest starts but not earliest ones. `component` is the smallest job id among
    all jobs tied to it, kept under the graph lock.
    """

    plot = models.ForeignKey(Plot, on_delete=models.CASCADE, related_name="jobs")
    season = models.ForeignKey(Season, on_delete=models.CASCADE, null=True, blank=True, related_name="jobs")
    branch = models.ForeignKey(Branch, on_delete=models.SET_NULL, null=True, blank=True, related_name="jobs")
    step = models.CharField(max_length=60, blank=True)
    occurrence = models.PositiveSmallIntegerField(default=1)
    operation = models.CharField(max_length=30)
    title = models.CharField(max_length=120)
    instruction = models.TextField(blank=True)
    duration_min = models.PositiveIntegerField()
    acres = models.FloatField(null=True, blank=True)
    first_day = models.DateField(null=True, blank=True)
    last_day = models.DateField(null=True, blank=True)
    deadline = models.DateField(null=True, blank=True)
    dates_source = models.CharField(max_length=60, blank=True)
    hazards = models.JSONField(default=list, blank=True)
    outcomes = models.JSONField(default=list, blank=True)
    skip_effect = models.CharField(max_length=12, choices=SkipEffect.choices, default=SkipEffect.PASSED_OVER)
    repeat = models.JSONField(null=True, blank=True)
    details = models.JSONField(
        default=dict,
        blank=True,
        help_text="Of its step: tags, limits, closed_by, observes, least_crew, lead_days, deadline_note, dates_worth.",
    )
    round = models.ForeignKey(Round, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    component = models.BigIntegerField(default=0)
    called_off_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["season", "step", "occurrence"],
                name="job_step_once",
                condition=~Q(step=""),
                violation_error_message="This step of the season has its job already.",
            ),
            models.CheckConstraint(
                condition=Q(acres__isnull=True) | Q(acres__gt=0),
                name="job_acres_positive",
                violation_error_message="Give acres above 0, or none.",
            ),
            models.CheckConstraint(
                condition=Q(duration_min__lte=527_040),
                name="job_duration",
                violation_error_message="A job lasts from 0 minutes to a year.",
            ),
            before(
                "first_day",
                "last_day",
                "job_days_order",
                "The job's days end before they start. Give a last day on or after the first.",
                or_equal=True,
                or_null=True,
            ),
            one_of("skip_effect", SkipEffect, "job_skip_effect_known"),
        ]
        indexes = [
            models.Index(fields=["component"], name="job_component"),  # the one-report walk loads one component
            models.Index(fields=["holding", "changed_at"], name="job_changed"),
            models.Index(fields=["holding", "plot"], name="job_plot"),
        ]

    def fact_keys(self) -> set[str]:
        return {f"job:{self.pk}"}

    def __str__(self) -> str:
        return self.title


class LinkRelation(models.TextChoices):
    FINISH_START = "FS", "finish-start"
    START_START = "SS", "start-start"
    FINISH_FINISH = "FF", "finish-finish"
    START_FINISH = "SF", "start-finish"


class LagUnit(models.TextChoices):
    HOURS = "hours"
    DAYS = "days"
    DEGREE_DAYS = "degree_days", "degree days"
    RAIN_IN = "rain_in", "inches of rain on one day"


class Prerequisite(HoldingRow):
    """Predecessor and successor, a relation, a minimal and a maximal lag, each with its unit."""

    predecessor = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="+")
    successor = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="+")
    relation = models.CharField(max_length=2, choices=LinkRelation.choices, default=LinkRelation.FINISH_START)
    min_amount = models.FloatField(default=0)
    min_unit = models.CharField(max_length=12, choices=LagUnit.choices, default=LagUnit.DAYS)
    min_then_days = models.FloatField(default=0, help_text="Days to wait after the rain.")
    max_amount = models.FloatField(null=True, blank=True)
    max_unit = models.CharField(max_length=12, choices=LagUnit.choices, blank=True)
    degree_days = models.CharField(max_length=12, blank=True, help_text="'86/50' or a base such as '40'.")
    confirm = models.CharField(max_length=30, blank=True, help_text="Kind of observation that closes the minimum.")
    source = models.CharField(max_length=60, blank=True)
    worth = models.CharField(max_length=20, blank=True)
    max_source = models.CharField(max_length=60, blank=True)
    max_worth = models.CharField(max_length=20, blank=True)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["predecessor", "successor", "relation"],
                name="prerequisite_once",
                violation_error_message="This prerequisite is listed already.",
            ),
            models.CheckConstraint(
                condition=~Q(predecessor=F("successor")),
                name="prerequisite_not_itself",
                violation_error_message="A job cannot come before itself.",
            ),
            models.CheckConstraint(
                condition=Q(max_amount__isnull=True) & Q(max_unit="") | Q(max_amount__isnull=False) & ~Q(max_unit=""),
                name="prerequisite_max_unit",
                violation_error_message="Give the maximum with its unit, or neither.",
            ),
            models.CheckConstraint(
                condition=Q(min_amount__gte=0) | Q(min_unit__in=["hours", "days"]),
                name="prerequisite_lead_unit",
                violation_error_message="A lead (a minimum below 0) is counted in hours or days.",
            ),
            models.CheckConstraint(
                condition=Q(max_amount__isnull=True) | Q(max_amount__gte=F("min_amount")) | ~Q(max_unit=F("min_unit")),
                name="prerequisite_max_above_min",
                violation_error_message="The maximum wait is shorter than the minimum.",
            ),
            models.CheckConstraint(
                condition=~Q(max_unit="rain_in"),
                name="prerequisite_no_rain_max",
                violation_error_message="A maximum is counted in hours, days or degree days.",
            ),
            one_of("relation", LinkRelation, "prerequisite_relation_known"),
            one_of("min_unit", LagUnit, "prerequisite_unit_known"),
        ]
        indexes = [models.Index(fields=["holding"], name="prerequisite_holding")]

    def fact_keys(self) -> set[str]:
        return {f"job:{self.predecessor_id}", f"job:{self.successor_id}"}

    def __str__(self) -> str:
        return f"{self.predecessor_id} before {self.successor_id}"


class NeedKind(models.TextChoices):
    MACHINE = "machine"
    MATERIAL = "material"
    SKILL = "skill"


class Need(HoldingRow):
    """What a job takes along: a kind of machine or one machine, a material with its rate, or a skill."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="needs")
    kind = models.CharField(max_length=8, choices=NeedKind.choices)
    name = models.CharField(max_length=60, help_text="Kind of machine, role of material, or name of the skill.")
    machine = models.ForeignKey(Machine, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    material = models.ForeignKey(Material, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    rate_per_acre = models.FloatField(null=True, blank=True)
    amount = models.FloatField(null=True, blank=True, help_text="A fixed amount in the material's unit.")

    class Meta:
        constraints = [
            one_of("kind", NeedKind, "need_kind_known"),
            models.UniqueConstraint(
                fields=["job", "kind", "name"],
                name="need_once",
                violation_error_message="This need is listed already.",
            ),
            models.CheckConstraint(
                condition=(Q(rate_per_acre__isnull=True) | Q(rate_per_acre__gt=0))
                & (Q(amount__isnull=True) | Q(amount__gt=0)),
                name="need_positive",
                violation_error_message="Rate and amount lie above 0.",
            ),
        ]

    def clean(self) -> None:
        if self.machine is not None and (self.kind, self.name) != (NeedKind.MACHINE, self.machine.kind):
            raise ValidationError({"machine": f"This machine is a {self.machine.kind}, which is not what is needed."})
        if self.material is not None and self.kind != NeedKind.MATERIAL:
            raise ValidationError({"material": "A material is chosen for a need of a material."})

    def fact_keys(self) -> set[str]:
        keys = {f"job:{self.job_id}"}
        if self.kind == NeedKind.MATERIAL:  # what is sprayed closes jobs of other seasons on the plot
            keys.add(f"plot:{self.job.plot_id}")
        return keys

    def __str__(self) -> str:
        return f"{self.kind} {self.name}"
