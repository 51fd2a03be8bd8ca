"""Limits that a holding sets itself: for all its work, for a machine, a plot or a person. They only ever tighten."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from core.models import HoldingRow, Person, one_of
from plots.models.land import Plot
from plots.models.stores import Machine


class Quantity(models.TextChoices):
    """What can be bounded, by hour."""

    WIND = "wind_mph", "wind, mph"
    GUST = "gust_mph", "gusts, mph"
    TEMPERATURE = "temp_f", "temperature, F"
    HUMIDITY = "humidity_pct", "relative humidity, %"
    HEAT = "heat_index_f", "heat index, F"
    COLD = "felt_cold_f", "wind chill, F"
    DRYING = "wet_bulb_depression_f", "wet-bulb depression, F"
    THUNDER = "thunder_pct", "chance of thunder, %"
    RAIN_CHANCE = "rain_chance_pct", "chance of rain, %"
    MIXING = "mixing_ft", "mixing height, ft"
    SOIL = "soil_temp_f", "soil temperature, F"


class OwnLimit(HoldingRow):
    """A bound on the hours of work beside label, law and general defaults; both ends are included.

    It is of one machine, plot or person, or else the holding's own rule. Hours in which the quantity is not known do
    not go."""

    quantity = models.CharField(max_length=24, choices=Quantity.choices)
    least = models.FloatField(null=True, blank=True)
    most = models.FloatField(null=True, blank=True)
    operation = models.CharField(max_length=30, blank=True, help_text="Key of a field operation; empty: all outdoors.")
    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    plot = models.ForeignKey(Plot, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            one_of("quantity", Quantity, "own_limit_quantity_known"),
            models.CheckConstraint(
                condition=(Q(least__isnull=False) | Q(most__isnull=False))
                & (Q(least__isnull=True) | Q(most__isnull=True) | Q(least__lte=F("most"))),
                name="own_limit_bounds",
                violation_error_message="Give the least, the most or both, the least not above the most.",
            ),
            models.CheckConstraint(
                condition=Q(machine__isnull=True, plot__isnull=True)
                | Q(machine__isnull=True, person__isnull=True)
                | Q(plot__isnull=True, person__isnull=True),
                name="own_limit_of_one",
                violation_error_message="A limit is of one machine, one plot or one person, or of the whole holding.",
            ),
        ]

    def clean(self) -> None:
        figures = [figure for figure in (self.least, self.most) if figure is not None]
        if any(not -1_000 <= figure <= 100_000 for figure in figures):
            raise ValidationError("A bound lies between -1,000 and 100,000.")

    def fact_keys(self) -> set[str]:
        if self.plot_id is not None:
            return {f"plot:{self.plot_id}"}
        if self.machine is not None:
            return {f"machine:{self.machine.kind}"}
        return {"people" if self.person_id is not None else "all"}

    def __str__(self) -> str:
        return f"{self.get_quantity_display()} {self.least} to {self.most}"
