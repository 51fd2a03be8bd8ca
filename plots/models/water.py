"""River gauges: what they read belongs to no holding; at which stage an access closes is the property's own."""

from django.db import models
from django.db.models import Q

from core.models import HoldingRow, one_of
from plots.models.land import Property
from plots.models.weather import DayKind

SITE = r"^\d{8,15}$"


class Gauge(models.Model):
    """A gauge of the U.S. Geological Survey by its site number, and what the Weather Service says of it.

    Stages are feet above the gauge's own zero. `category` is the service's word for now, "" where it was never told."""

    site = models.CharField(max_length=15, unique=True)
    name = models.CharField(max_length=120, blank=True)
    lid = models.CharField(max_length=10, blank=True, help_text="The Weather Service's own name of the gauge.")
    action_ft = models.FloatField(null=True, blank=True)
    minor_ft = models.FloatField(null=True, blank=True)
    moderate_ft = models.FloatField(null=True, blank=True)
    major_ft = models.FloatField(null=True, blank=True)
    category = models.CharField(max_length=30, blank=True)
    told_at = models.DateTimeField(null=True, blank=True, help_text="When the Weather Service was last heard.")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(site__regex=SITE),
                name="gauge_site",
                violation_error_message="A site number has 8 to 15 digits.",
            )
        ]

    def __str__(self) -> str:
        return self.name or self.site


class Reading(models.Model):
    """The stage at an instant, read or forecast; a forecast says when it was issued."""

    gauge = models.ForeignKey(Gauge, on_delete=models.CASCADE, related_name="readings")
    at = models.DateTimeField()
    kind = models.CharField(max_length=8, choices=DayKind.choices, default=DayKind.OBSERVED)
    feet = models.FloatField()
    issued_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["gauge", "at", "kind"], name="reading_once"),
            models.CheckConstraint(
                condition=Q(feet__gte=-50, feet__lte=500),
                name="reading_range",
                violation_error_message="A stage of -50 to 500 ft.",
            ),
            one_of("kind", DayKind, "reading_kind_known"),
        ]

    def __str__(self) -> str:
        return f"{self.gauge_id} {self.at} {self.kind}"


class PropertyGauge(HoldingRow):
    """The gauge that says when a property's access goes under.

    At `level_ft` the access closes. Without an own level the gauge's action stage stands in, if `use_action` says so.
    After a flood it opens again when the river has stood `margin_ft` below for `hours_down` hours (both from memory: a
    setting)."""

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="gauges")
    site = models.CharField(max_length=15, help_text="The site number of the U.S. Geological Survey, 8 to 15 digits.")
    level_ft = models.FloatField(
        null=True, blank=True, help_text="Stage in feet on this gauge at which the access is under water."
    )
    margin_ft = models.FloatField(default=1.0)
    hours_down = models.PositiveSmallIntegerField(default=24)
    use_action = models.BooleanField(
        default=True, help_text="Close at the gauge's action stage while no own level is set."
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["property"],
                name="property_gauge_once",
                violation_error_message="This property has its gauge already.",
            ),
            models.CheckConstraint(
                condition=Q(site__regex=SITE),
                name="property_gauge_site",
                violation_error_message="A site number has 8 to 15 digits.",
            ),
            models.CheckConstraint(
                condition=(Q(level_ft__isnull=True) | Q(level_ft__gte=-50, level_ft__lte=500))
                & Q(margin_ft__gt=0, margin_ft__lte=50)
                & Q(hours_down__gte=1, hours_down__lte=72),
                name="property_gauge_figures",
                violation_error_message=(
                    "The level lies between -50 and 500 ft, the margin above 0 and at most 50 ft, "
                    "the hours between 1 and 72."
                ),
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"property:{self.property_id}"}

    def __str__(self) -> str:
        return f"{self.property_id} at {self.site}"
