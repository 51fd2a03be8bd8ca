"""What the label in hand says of a material, as somebody typed it from the container. No figure has a default."""

from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import F, Q

from core.models import HoldingRow
from plots.models.stores import Droplet, Material
from plots.reference import crop_key, unknown_crop

NAMES = RegexValidator(r"^[^,]+(, ?[^, ][^,]*)*$|^\*$", "Names with commas between them, or * for all.")


class Label(HoldingRow):
    """The figures of one material's label. Empty means not typed, and so not known; it never means "no limit"."""

    material = models.ForeignKey(Material, on_delete=models.CASCADE, related_name="labels")
    entry_hours = models.FloatField(null=True, blank=True, help_text="Restricted-entry interval after the spray.")
    rain_fast_hours = models.FloatField(null=True, blank=True)
    wind_least_mph = models.FloatField(null=True, blank=True)
    wind_most_mph = models.FloatField(null=True, blank=True)
    droplet = models.CharField(max_length=16, blank=True, choices=Droplet.choices, help_text="The finest allowed.")
    night_low_f = models.FloatField(null=True, blank=True, help_text="Lowest night temperature around the spray.")
    crop_least_in = models.FloatField(null=True, blank=True, help_text="Least height of the crop it goes over.")
    crop_most_in = models.FloatField(null=True, blank=True, help_text="Greatest height of the crop it goes over.")
    weed_most_in = models.FloatField(null=True, blank=True, help_text="Greatest height of the weeds it controls.")
    till_wait_days = models.FloatField(null=True, blank=True)
    mow_wait_days = models.FloatField(null=True, blank=True)
    wash_known = models.BooleanField(default=False, help_text="The label was read for what the sprayer may do next.")
    wash_before = models.CharField(
        max_length=200,
        blank=True,
        validators=[NAMES],
        help_text="Crops that need a washed sprayer after it; * for all.",
    )
    over_crops = models.CharField(
        max_length=200,
        blank=True,
        validators=[NAMES],
        help_text="Crops that it may be sprayed over whatever their lot; * for all.",
    )
    checked_on = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["material"],
                name="label_once",
                violation_error_message="The label of this material is typed already. Change that one.",
            ),
            models.CheckConstraint(
                condition=(Q(entry_hours__isnull=True) | Q(entry_hours__gte=0, entry_hours__lte=8760))
                & (Q(rain_fast_hours__isnull=True) | Q(rain_fast_hours__gte=0, rain_fast_hours__lte=168))
                & (Q(till_wait_days__isnull=True) | Q(till_wait_days__gte=0, till_wait_days__lte=1000))
                & (Q(mow_wait_days__isnull=True) | Q(mow_wait_days__gte=0, mow_wait_days__lte=1000)),
                name="label_waits",
                violation_error_message=(
                    "Waits are 0 or more: entry up to 8,760 h, rain-fast up to 168 h, tilling and mowing up to 1,000 d."
                ),
            ),
            models.CheckConstraint(
                condition=(Q(wind_least_mph__isnull=True) | Q(wind_least_mph__gte=0, wind_least_mph__lte=60))
                & (Q(wind_most_mph__isnull=True) | Q(wind_most_mph__gte=0, wind_most_mph__lte=60))
                & (
                    Q(wind_least_mph__isnull=True)
                    | Q(wind_most_mph__isnull=True)
                    | Q(wind_least_mph__lte=F("wind_most_mph"))
                ),
                name="label_wind",
                violation_error_message="Wind is 0 to 60 mph, its least not above its most.",
            ),
            models.CheckConstraint(
                condition=(Q(crop_least_in__isnull=True) | Q(crop_least_in__gte=0, crop_least_in__lte=600))
                & (Q(crop_most_in__isnull=True) | Q(crop_most_in__gt=0, crop_most_in__lte=600))
                & (Q(weed_most_in__isnull=True) | Q(weed_most_in__gt=0, weed_most_in__lte=600))
                & (
                    Q(crop_least_in__isnull=True)
                    | Q(crop_most_in__isnull=True)
                    | Q(crop_least_in__lte=F("crop_most_in"))
                ),
                name="label_heights",
                violation_error_message="Heights lie above 0 and at most 600 in, the crop's least not above its most.",
            ),
            models.CheckConstraint(
                condition=Q(droplet="") | Q(droplet__in=Droplet.values),
                name="label_droplet_known",
                violation_error_message=f"Droplet is not known. Give one of: {', '.join(Droplet.values)}, or none.",
            ),
            models.CheckConstraint(
                condition=Q(wash_before="") | Q(wash_known=True),
                name="label_wash_known",
                violation_error_message="Crops that need a washed sprayer go with wash_known = true.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"material:{self.material_id}", f"label:{self.material_id}"}

    def __str__(self) -> str:
        return f"Label of {self.material}"


class LabelActive(HoldingRow):
    """One active ingredient of a material: how much of it a unit holds, and the most that a season may see."""

    label = models.ForeignKey(Label, on_delete=models.CASCADE, related_name="actives")
    active = models.CharField(max_length=60, validators=[RegexValidator(r"^\S(.*\S)?$", "Write the name alone.")])
    per_unit = models.FloatField(help_text="Of the active in one unit of the material, in `unit`.")
    unit = models.CharField(max_length=12, help_text="Of the amounts, such as 'lb ae'.")
    season_most_per_acre = models.FloatField(null=True, blank=True, help_text="Per acre and calendar year.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["label", "active"],
                name="label_active_once",
                violation_error_message="This active ingredient is listed already.",
            ),
            models.CheckConstraint(
                condition=Q(per_unit__gt=0) & (Q(season_most_per_acre__isnull=True) | Q(season_most_per_acre__gt=0)),
                name="label_active_positive",
                violation_error_message="Amounts lie above 0.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"material:{self.label.material_id}", f"label:{self.label.material_id}"}

    def __str__(self) -> str:
        return f"{self.active} in {self.label_id}"


class PlantBack(HoldingRow):
    """How long after the spray a crop may be planted. An empty crop stands for every one that the label does not name.

    Where the label counts the days only from enough rain on, they begin at the end of the first day with that much."""

    label = models.ForeignKey(Label, on_delete=models.CASCADE, related_name="plant_backs")
    crop = models.CharField(max_length=40, blank=True, help_text="Key of a crop; empty: any that is not named.")
    days = models.FloatField(help_text="0 where the label asks for no wait.")
    after_rain_in = models.FloatField(null=True, blank=True, help_text="The days begin after so much rain on one day.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["label", "crop"],
                name="plant_back_once",
                violation_error_message="The wait of this crop is typed already. Change that one.",
            ),
            models.CheckConstraint(
                condition=Q(days__gte=0, days__lte=1500)
                & (Q(after_rain_in__isnull=True) | Q(after_rain_in__gt=0, after_rain_in__lte=20)),
                name="plant_back_wait",
                violation_error_message="The wait is 0 to 1,500 days, the rain above 0 and at most 20 in.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"material:{self.label.material_id}", f"label:{self.label.material_id}"}

    def clean(self) -> None:
        """A crop's name becomes its key; a word that no crop has is refused, as it would loosen the wait of one."""
        super().clean()
        key = crop_key(self.crop)
        if key is None:
            raise ValidationError({"crop": unknown_crop(self.crop)})
        self.crop = key

    def __str__(self) -> str:
        return f"{self.crop or 'any crop'} after {self.label_id}"
