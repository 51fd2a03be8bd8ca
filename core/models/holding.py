"""The holding, the tenant of everything, and the row that versions its graph."""

from django.db import models

from core.models.base import one_of


class Units(models.TextChoices):
    US = "us"
    METRIC = "metric"


class HoldingState(models.TextChoices):
    ACTIVE = "active"
    CLOSED = "closed"


class Holding(models.Model):
    """All land under one management. `clock_at` set means that its clock stands there (the demo)."""

    key = models.SlugField(max_length=40, unique=True, null=True, blank=True)
    name = models.CharField(max_length=120)
    zone = models.CharField(max_length=64, default="America/Chicago")
    units = models.CharField(max_length=8, choices=Units.choices, default=Units.US)
    clock_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=8, choices=HoldingState.choices, default=HoldingState.ACTIVE)
    check_in_minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Usual time between two check-ins of somebody who works alone."
    )
    check_in_contact = models.CharField(
        max_length=120, blank=True, help_text="Who usually waits for the check-ins, and how they are reached."
    )

    class Meta:
        constraints = [
            one_of("units", Units, "holding_units_known"),
            one_of("state", HoldingState, "holding_state_known"),
            models.CheckConstraint(
                condition=models.Q(check_in_minutes__isnull=True)
                | models.Q(check_in_minutes__gte=5, check_in_minutes__lte=720),
                name="holding_check_in",
                violation_error_message="A check-in comes every 5 to 720 minutes.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Graph(models.Model):
    """The one row that every edge write and every walk of a holding locks.

    `facts_version` counts changes of facts, `walked_version` is the version the stored reckonings answer to. A look
    that finds them equal before `wake_at` has nothing to do.
    """

    holding = models.OneToOneField(Holding, on_delete=models.CASCADE, primary_key=True, related_name="graph")
    facts_version = models.BigIntegerField(default=1)
    walked_version = models.BigIntegerField(default=0)
    walked_at = models.DateTimeField(null=True, blank=True)
    wake_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["wake_at"], name="graph_wake")]  # the sweep's look for clocks that ran out

    def __str__(self) -> str:
        return f"graph of {self.holding_id} at {self.facts_version}"


class Touched(models.Model):
    """A fact key that changed and that no walk has seen yet; `all` asks for the whole holding."""

    holding = models.ForeignKey(Holding, on_delete=models.CASCADE, related_name="+")
    facts_version = models.BigIntegerField()
    key = models.CharField(max_length=60)

    class Meta:
        indexes = [models.Index(fields=["holding", "facts_version"], name="touched_version")]

    def __str__(self) -> str:
        return self.key
