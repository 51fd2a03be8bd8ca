"""What a laboratory found in the soil of a plot."""

from django.db import models
from django.db.models import Q

from core.models import HoldingRow
from plots.models.land import Plot


class SoilTest(HoldingRow):
    """A soil report of a plot, values as printed on it."""

    plot = models.ForeignKey(Plot, on_delete=models.CASCADE, related_name="soil_tests")
    on = models.DateField()
    ph = models.FloatField(null=True, blank=True)
    buffer_ph = models.FloatField(null=True, blank=True)
    phosphorus_ppm = models.FloatField(null=True, blank=True)
    potassium_ppm = models.FloatField(null=True, blank=True)
    organic_pct = models.FloatField(null=True, blank=True)
    nitrogen_lb = models.FloatField(null=True, blank=True, help_text="Asked for, lb an acre, for the crop to come.")
    phosphate_lb = models.FloatField(null=True, blank=True, help_text="P2O5 asked for, lb an acre.")
    potash_lb = models.FloatField(null=True, blank=True, help_text="K2O asked for, lb an acre.")
    lime_lb = models.FloatField(
        null=True, blank=True, help_text="Effective neutralizing material asked for, lb an acre."
    )
    laboratory = models.CharField(max_length=80, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["plot", "on"],
                name="soil_test_once",
                violation_error_message="A soil test of this day is stored already.",
            ),
            models.CheckConstraint(
                condition=Q(ph__isnull=True) | Q(ph__gte=3, ph__lte=10),
                name="soil_test_ph",
                violation_error_message="Soil pH lies between 3 and 10.",
            ),
            models.CheckConstraint(
                condition=(Q(nitrogen_lb__isnull=True) | Q(nitrogen_lb__gte=0, nitrogen_lb__lte=400))
                & (Q(phosphate_lb__isnull=True) | Q(phosphate_lb__gte=0, phosphate_lb__lte=400))
                & (Q(potash_lb__isnull=True) | Q(potash_lb__gte=0, potash_lb__lte=500))
                & (Q(lime_lb__isnull=True) | Q(lime_lb__gte=0, lime_lb__lte=8000)),
                name="soil_test_asked",
                violation_error_message=(
                    "Nitrogen and phosphate asked for lie from 0 to 400 lb an acre, potash to 500, lime to 8,000."
                ),
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"plot:{self.plot_id}"}

    def __str__(self) -> str:
        return f"{self.plot} {self.on}"
