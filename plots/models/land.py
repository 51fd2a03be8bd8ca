"""Properties and plots, whose yes they need, and when nobody may enter."""

import builtins

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from core.models import Crew, HoldingRow, before, one_of

STATION = r"^[A-Z]{2}[A-Z0-9_-]{9}$"


class Tenure(models.TextChoices):
    OWNED = "owned"
    SHARED = "shared"
    LEASED = "leased"
    CONTRACT = "contract"


class Property(HoldingRow):
    """One piece of land with a place. `boundary` is a GeoJSON geometry (RFC 7946) or null."""

    name = models.CharField(max_length=80)
    latitude = models.FloatField()
    longitude = models.FloatField()
    boundary = models.JSONField(null=True, blank=True)
    tenure = models.CharField(max_length=10, choices=Tenure.choices, default=Tenure.OWNED)
    tenure_ends = models.DateField(null=True, blank=True)
    held_with = models.CharField(max_length=120, blank=True, help_text="Partner, owner or office, as people call them.")
    zone = models.CharField(max_length=64, blank=True, help_text="Found from the place if empty.")
    access_notes = models.TextField(blank=True)
    floods = models.BooleanField(default=False)
    station = models.CharField(
        max_length=11,
        blank=True,
        default="",
        help_text="The station near by whose daily history and normals are brought in, by its GHCN-Daily number.",
    )

    class Meta:
        verbose_name_plural = "properties"
        constraints = [
            models.UniqueConstraint(
                fields=["holding", "name"],
                name="property_name_once",
                violation_error_message="A property of this name is in the holding already.",
            ),
            models.CheckConstraint(
                condition=Q(latitude__gte=-90, latitude__lte=90, longitude__gte=-180, longitude__lte=180),
                name="property_place",
                violation_error_message="Latitude lies between -90 and 90, longitude between -180 and 180.",
            ),
            one_of("tenure", Tenure, "property_tenure_known"),
            models.CheckConstraint(
                condition=Q(station="") | Q(station__regex=STATION),
                name="property_station",
                violation_error_message="A station's number has 11 signs: two letters, then capitals and digits.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"property:{self.pk}"}

    def __str__(self) -> str:
        return self.name


class Consent(HoldingRow):
    """Whose yes a field operation needs on a property (an empty operation means every one), and the yes, once given."""

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="consents")
    operation = models.CharField(max_length=30, blank=True)
    whose = models.CharField(max_length=120)
    given_on = models.DateField(null=True, blank=True)
    valid_to = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["property", "operation", "whose"],
                name="consent_once",
                violation_error_message="This consent is listed already.",
            ),
            before(
                "given_on",
                "valid_to",
                "consent_order",
                "The consent ends before it is given.",
                or_equal=True,
                or_null=True,
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"property:{self.property_id}"}

    def __str__(self) -> str:
        return f"{self.whose} for {self.operation or 'everything'}"


class TellFirst(HoldingRow):
    """Somebody outside to be told before work on a property: fire dispatch, a neighbour, a beekeeper.

    Named is one field operation, or else one hazard (every job that has it), or else neither: all work on the land.
    The program reminds the manager and whoever goes; it never writes to the outsider."""

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="tell_first")
    operation = models.CharField(max_length=30, blank=True, help_text="Key of a field operation, or empty.")
    hazard = models.CharField(max_length=30, blank=True, help_text="fire, pesticide ..., or empty.")
    name = models.CharField(max_length=80)
    role = models.CharField(max_length=80, help_text="Why they hear of it: neighbour downwind, hives at the creek.")
    reach = models.CharField(max_length=120, help_text="How to reach them: a number, a mail, a door.")
    lead_hours = models.PositiveSmallIntegerField(default=24)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name = "person to tell first"
        verbose_name_plural = "people to tell first"
        constraints = [
            models.UniqueConstraint(
                fields=["property", "operation", "hazard", "name"],
                name="tell_first_once",
                violation_error_message="They are listed for this already.",
            ),
            models.CheckConstraint(
                condition=Q(operation="") | Q(hazard=""),
                name="tell_first_one_kind",
                violation_error_message="Give a field operation or a hazard, not both.",
            ),
            models.CheckConstraint(
                condition=Q(lead_hours__gte=1, lead_hours__lte=720),
                name="tell_first_lead",
                violation_error_message="They are told 1 to 720 hours before.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"property:{self.property_id}"}

    def __str__(self) -> str:
        return f"{self.name} ({self.role})"


class PlotKind(models.TextChoices):
    FOOD_PLOT = "food_plot", "food plot"
    BURN_UNIT = "burn_unit", "burn unit"
    FENCE_LINE = "fence_line", "fence line"
    FEEDING_PLACE = "feeding_place", "feeding place"
    TRAIL = "trail"
    YARD = "yard"


class Plot(HoldingRow):
    """A part of a property worked as one. Acres come from its polygon (geodesic) or are typed; typed ones win."""

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="plots")
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=14, choices=PlotKind.choices, default=PlotKind.FOOD_PLOT)
    polygon = models.JSONField(null=True, blank=True)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    acres_geodesic = models.FloatField(null=True, blank=True, editable=False)
    perimeter_ft = models.FloatField(null=True, blank=True)
    acres_typed = models.FloatField(null=True, blank=True)
    narrowest_ft = models.FloatField(null=True, blank=True, help_text="Width of the narrowest place.")
    flood_ft = models.FloatField(
        null=True, blank=True, help_text="Stage in feet on the property's gauge at which the plot is under water."
    )
    texture = models.CharField(max_length=30, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["property", "name"],
                name="plot_name_once",
                violation_error_message="A plot of this name is on the property already.",
            ),
            models.CheckConstraint(
                condition=(Q(acres_typed__isnull=True) | Q(acres_typed__gt=0))
                & (Q(acres_geodesic__isnull=True) | Q(acres_geodesic__gt=0))
                & (Q(acres_typed__isnull=False) | Q(acres_geodesic__isnull=False)),
                name="plot_acres_positive",
                violation_error_message="Give acres above 0, or a polygon.",
            ),
            models.CheckConstraint(
                condition=Q(narrowest_ft__isnull=True) | Q(narrowest_ft__gt=0),
                name="plot_width_positive",
                violation_error_message="The narrowest place is above 0 ft wide.",
            ),
            models.CheckConstraint(
                condition=Q(flood_ft__isnull=True) | Q(flood_ft__gte=-50, flood_ft__lte=500),
                name="plot_flood_stage",
                violation_error_message="A stage lies between -50 and 500 ft.",
            ),
            one_of("kind", PlotKind, "plot_kind_known"),
        ]

    @builtins.property
    def acres(self) -> float:
        return self.acres_typed or self.acres_geodesic or 0.0

    def fact_keys(self) -> set[str]:
        return {f"plot:{self.pk}"}

    def __str__(self) -> str:
        return self.name


def check_plot_on_property(plot: Plot | None, property_id: int) -> None:
    """Raises: ValidationError: the plot lies on another property."""
    if plot is not None and plot.property_id != property_id:
        raise ValidationError({"plot": "This plot lies on another property."})


class QuietKind(models.TextChoices):
    CLOSED = "closed"
    ONLY = "only"
    WAY = "way"
    BAN = "ban"


class QuietTime(HoldingRow):
    """Days on which a property or one plot is not entered, or only in some hours, or only by one way.

    closed: nobody enters, all day or between the two times · only: work is allowed between the two times only ·
    way: entry is by `way` alone (shown, holds nothing) · ban: the manager's own closure.
    """

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="quiet_times")
    plot = models.ForeignKey(Plot, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    kind = models.CharField(max_length=8, choices=QuietKind.choices, default=QuietKind.CLOSED)
    first_day = models.DateField()
    last_day = models.DateField()
    from_time = models.TimeField(null=True, blank=True)
    to_time = models.TimeField(null=True, blank=True)
    operation = models.CharField(max_length=30, blank=True, help_text="Empty: every field operation.")
    way = models.CharField(max_length=120, blank=True)
    reason = models.CharField(max_length=120)

    class Meta:
        constraints = [
            before(
                "first_day",
                "last_day",
                "quiet_days_order",
                "The quiet days end before they start. Give a last day on or after the first.",
                or_equal=True,
            ),
            before(
                "from_time",
                "to_time",
                "quiet_hours_order",
                "The hours end before they start. Give an end after the start.",
                or_null=True,
            ),
            models.CheckConstraint(
                condition=Q(from_time__isnull=True, to_time__isnull=True)
                | Q(from_time__isnull=False, to_time__isnull=False),
                name="quiet_hours_both",
                violation_error_message="Give both hours or none.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="only") | Q(from_time__isnull=False),
                name="quiet_only_hours",
                violation_error_message="'Only' needs the two hours between which work is allowed.",
            ),
            one_of("kind", QuietKind, "quiet_kind_known"),
        ]

    def clean(self) -> None:
        check_plot_on_property(self.plot, self.property_id)

    def fact_keys(self) -> set[str]:
        return {f"property:{self.property_id}"}

    def __str__(self) -> str:
        return f"{self.reason} {self.first_day} to {self.last_day}"


class Contract(HoldingRow):
    """A conservation contract. Its closed season comes round every year, both days inclusive."""

    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="contracts")
    plot = models.ForeignKey(Plot, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    practice = models.CharField(max_length=80)
    signed_on = models.DateField(null=True, blank=True)
    first_day = models.DateField()
    last_day = models.DateField()
    closed_from = models.CharField(max_length=5, blank=True, help_text="Month and day, 04-15.")
    closed_to = models.CharField(max_length=5, blank=True, help_text="Month and day, 08-01.")
    closed_operations = models.JSONField(default=list, blank=True, help_text="Empty: burn, mow, spray, till.")
    share = models.FloatField(null=True, blank=True)
    cap_acres = models.FloatField(null=True, blank=True)
    field_acres = models.FloatField(null=True, blank=True, help_text="Of the field that food plots are a share of.")
    least_acres = models.FloatField(null=True, blank=True, help_text="The least of each food plot.")
    least_width_ft = models.FloatField(null=True, blank=True, help_text="The least width of each food plot.")
    disturb_share = models.FloatField(
        null=True, blank=True, help_text="Of the acres under contract, in one year: burned, mown, tilled, sprayed."
    )
    contract_acres = models.FloatField(null=True, blank=True)
    exempt_acres = models.FloatField(null=True, blank=True, help_text="A contract of at most these is free of it.")
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            before(
                "first_day",
                "last_day",
                "contract_order",
                "The contract ends before it starts. Give a last day on or after the first.",
                or_equal=True,
            ),
            models.CheckConstraint(
                condition=(Q(closed_from="") & Q(closed_to=""))
                | (Q(closed_from__regex=r"^[01]\d-[0-3]\d$") & Q(closed_to__regex=r"^[01]\d-[0-3]\d$")),
                name="contract_closed_days",
                violation_error_message=(
                    "Give the closed season as month and day twice, like 04-15 and 08-01, or leave both empty."
                ),
            ),
            models.CheckConstraint(
                condition=(Q(share__isnull=True) | Q(share__gt=0, share__lte=1))
                & (Q(cap_acres__isnull=True) | Q(cap_acres__gt=0)),
                name="contract_limits",
                violation_error_message="The share lies above 0 and at most 1, the cap above 0 acres.",
            ),
            models.CheckConstraint(
                condition=(Q(disturb_share__isnull=True) | Q(disturb_share__gt=0, disturb_share__lte=1))
                & (Q(field_acres__isnull=True) | Q(field_acres__gt=0))
                & (Q(contract_acres__isnull=True) | Q(contract_acres__gt=0))
                & (Q(exempt_acres__isnull=True) | Q(exempt_acres__gt=0)),
                name="contract_acres_positive",
                violation_error_message="The yearly share lies above 0 and at most 1, acres above 0.",
            ),
            models.CheckConstraint(
                condition=(Q(least_acres__isnull=True) | Q(least_acres__gt=0))
                & (Q(least_width_ft__isnull=True) | Q(least_width_ft__gt=0)),
                name="contract_least_positive",
                violation_error_message="The least of a food plot is above 0 acres and above 0 ft wide.",
            ),
        ]

    def clean(self) -> None:
        check_plot_on_property(self.plot, self.property_id)

    def fact_keys(self) -> set[str]:
        return {f"property:{self.property_id}"}

    def __str__(self) -> str:
        return f"{self.practice} on {self.property}"


class CrewProperty(HoldingRow):
    """A crew looks after these properties; a crew without any looks after all."""

    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="+")
    property = models.ForeignKey(Property, on_delete=models.CASCADE, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["crew", "property"],
                name="crew_property_once",
                violation_error_message="The crew looks after this property already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.crew} at {self.property}"
