"""What law, contract and safety ask of one job, as somebody typed it. Empty means not known, and so no."""

from django.db import models
from django.db.models import Q

from core.models import HoldingRow, Person, before
from jobs.models.plan import Job


class Purpose(models.TextChoices):
    """What a mowing is for; a contract asks."""

    WEEDS = "weeds", "against weeds, seed or shade"
    STAND = "stand", "for the stand as the plan says"
    FIREBREAK = "firebreak"
    COSMETIC = "cosmetic", "looks, or every year alike"


class Method(models.TextChoices):
    """How a spray is put out; all but the first three carry far."""

    BOOM = "boom"
    BACKPACK = "backpack"
    HAND = "hand", "by hand, wiper or gun"
    AERIAL = "aerial"
    AIR_BLAST = "air_blast", "air blast"
    MIST = "mist"
    FOG = "fog"
    SMOKE = "smoke"
    FUMIGANT = "fumigant"


class Sheet(HoldingRow):
    """The typed answers of one job: purpose, permit, crew, firebreak, signs, agency, check-in, spray."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="sheets")
    purpose = models.CharField(max_length=10, blank=True, choices=Purpose.choices)
    permit_needed = models.BooleanField(null=True, blank=True, help_text="Empty: nobody has asked yet.")
    permit_number = models.CharField(max_length=60, blank=True)
    permit_issued_on = models.DateField(null=True, blank=True)
    permit_expires_on = models.DateField(null=True, blank=True, help_text="The last day on which it is valid.")
    permit_most_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="The most that the state lets a permit last after its issue."
    )
    boss = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    least_crew = models.PositiveSmallIntegerField(null=True, blank=True, help_text="As the written plan says.")
    fuel_height_ft = models.FloatField(null=True, blank=True)
    break_width_ft = models.FloatField(null=True, blank=True, help_text="The narrowest place of the firebreak.")
    break_least_ft = models.FloatField(null=True, blank=True, help_text="The least that the state's standard asks.")
    signs = models.BooleanField(null=True, blank=True, help_text="Whether signs are needed here; empty: as the rule.")
    agency_checked_on = models.DateField(null=True, blank=True)
    agency_county = models.CharField(max_length=60, blank=True)
    check_in_minutes = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Between two check-ins.")
    contact = models.CharField(max_length=120, blank=True, help_text="Who waits for the check-in, and how reached.")
    spray_method = models.CharField(max_length=10, blank=True, choices=Method.choices)
    droplet_microns = models.FloatField(null=True, blank=True, help_text="Volume median diameter of the nozzles.")
    nozzle_in = models.FloatField(null=True, blank=True, help_text="Height of the nozzles above the soil or the crop.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["job"], name="sheet_once", violation_error_message="The sheet of this job is there already."
            ),
            models.CheckConstraint(
                condition=Q(purpose="") | Q(purpose__in=Purpose.values),
                name="sheet_purpose_known",
                violation_error_message=f"Purpose is not known. Give one of: {', '.join(Purpose.values)}, or none.",
            ),
            models.CheckConstraint(
                condition=Q(spray_method="") | Q(spray_method__in=Method.values),
                name="sheet_method_known",
                violation_error_message=f"Method is not known. Give one of: {', '.join(Method.values)}, or none.",
            ),
            models.CheckConstraint(
                condition=(Q(droplet_microns__isnull=True) | Q(droplet_microns__gt=0, droplet_microns__lte=5000))
                & (Q(nozzle_in__isnull=True) | Q(nozzle_in__gte=0, nozzle_in__lte=1200)),
                name="sheet_nozzles",
                violation_error_message="Droplets have above 0 to 5,000 microns, nozzles stand 0 to 1,200 in high.",
            ),
            before(
                "permit_issued_on",
                "permit_expires_on",
                "sheet_permit_order",
                "The permit ends before it is issued. Give a last day on or after the day of issue.",
                or_equal=True,
                or_null=True,
            ),
            models.CheckConstraint(
                condition=(Q(fuel_height_ft__isnull=True) | Q(fuel_height_ft__gt=0, fuel_height_ft__lte=60))
                & (Q(break_width_ft__isnull=True) | Q(break_width_ft__gte=0, break_width_ft__lte=1000))
                & (Q(break_least_ft__isnull=True) | Q(break_least_ft__gt=0, break_least_ft__lte=1000)),
                name="sheet_firebreak",
                violation_error_message="Fuel height lies above 0 and at most 60 ft, widths at most 1,000 ft.",
            ),
            models.CheckConstraint(
                condition=Q(check_in_minutes__isnull=True) | Q(check_in_minutes__gte=5, check_in_minutes__lte=720),
                name="sheet_check_in",
                violation_error_message="A check-in comes every 5 to 720 minutes.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"job:{self.job_id}"}

    def __str__(self) -> str:
        return f"Sheet of {self.job_id}"
