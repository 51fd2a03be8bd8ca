"""Machines, materials and their stock, crops, and where a figure comes from."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from core.models import HoldingRow, one_of
from plots.models.land import Property


class Source(models.Model):
    """Where a wait, a date or a figure comes from, and what it is worth."""

    key = models.SlugField(max_length=60, primary_key=True)
    title = models.CharField(max_length=240)
    publisher = models.CharField(max_length=160, blank=True)
    year = models.CharField(max_length=20, blank=True)
    worth = models.CharField(max_length=20)

    def __str__(self) -> str:
        return self.title


class Crop(models.Model):
    """A crop and the degree days it is counted by; editable reference data."""

    key = models.SlugField(max_length=40, primary_key=True)
    name = models.CharField(max_length=60)
    degree_days = models.CharField(max_length=12, blank=True, help_text="'86/50' or a base such as '40'.")
    facts = models.JSONField(default=dict, blank=True)

    def __str__(self) -> str:
        return self.name


class MachineState(models.TextChoices):
    WORKS = "works"
    DOWN = "down"
    ON_LOAN = "on_loan", "on loan"
    HIRED = "hired"


class Droplet(models.TextChoices):
    """Droplet classes, the finest first."""

    VERY_FINE = "very_fine", "very fine"
    FINE = "fine"
    MEDIUM = "medium"
    COARSE = "coarse"
    VERY_COARSE = "very_coarse", "very coarse"
    EXTREMELY_COARSE = "extremely_coarse", "extremely coarse"
    ULTRA_COARSE = "ultra_coarse", "ultra coarse"


class Machine(HoldingRow):
    """A machine, where it stands and whether it works."""

    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=30)
    width_ft = models.FloatField(null=True, blank=True)
    speed_mph = models.FloatField(null=True, blank=True)
    efficiency = models.FloatField(null=True, blank=True, help_text="Field efficiency, 0 to 1.")
    row_in = models.FloatField(null=True, blank=True, help_text="From row to row, or from nozzle to nozzle.")
    tank_gal = models.FloatField(null=True, blank=True)
    gallons_per_acre = models.FloatField(null=True, blank=True, help_text="Output at its speed, as last tested.")
    nozzle_gpm = models.FloatField(null=True, blank=True, help_text="Of one nozzle, on the sheet of the tip.")
    nozzle_psi = models.FloatField(null=True, blank=True, help_text="The pressure of that flow.")
    at_property = models.ForeignKey(Property, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    state = models.CharField(max_length=8, choices=MachineState.choices, default=MachineState.WORKS)
    until = models.DateField(null=True, blank=True, help_text="Down or on loan until this day; hired until this day.")
    with_operator = models.BooleanField(default=False)
    droplet = models.CharField(
        max_length=16, blank=True, choices=Droplet.choices, help_text="Of a sprayer: what its nozzles give as set."
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["holding", "name"],
                name="machine_name_once",
                violation_error_message="A machine of this name is listed already.",
            ),
            models.CheckConstraint(
                condition=(Q(width_ft__isnull=True) | Q(width_ft__gt=0, width_ft__lte=200))
                & (Q(speed_mph__isnull=True) | Q(speed_mph__gt=0, speed_mph__lte=60))
                & (Q(efficiency__isnull=True) | Q(efficiency__gt=0, efficiency__lte=1)),
                name="machine_figures",
                violation_error_message=(
                    "Width lies above 0 and at most 200 ft, speed above 0 and at most 60 mph, "
                    "efficiency above 0 and at most 1."
                ),
            ),
            models.CheckConstraint(
                condition=(Q(row_in__isnull=True) | Q(row_in__gt=0, row_in__lte=120))
                & (Q(tank_gal__isnull=True) | Q(tank_gal__gt=0, tank_gal__lte=5000))
                & (Q(gallons_per_acre__isnull=True) | Q(gallons_per_acre__gt=0, gallons_per_acre__lte=200))
                & (Q(nozzle_gpm__isnull=True) | Q(nozzle_gpm__gt=0, nozzle_gpm__lte=10))
                & (Q(nozzle_psi__isnull=True) | Q(nozzle_psi__gt=0, nozzle_psi__lte=300)),
                name="machine_sprayer_figures",
                violation_error_message=(
                    "Rows or nozzles stand above 0 to 120 in apart, a tank holds up to 5,000 gal, output lies above 0 "
                    "to 200 gal an acre, a nozzle gives up to 10 gal a minute at up to 300 psi."
                ),
            ),
            one_of("state", MachineState, "machine_state_known"),
            models.CheckConstraint(
                condition=Q(droplet="") | Q(droplet__in=Droplet.values),
                name="machine_droplet_known",
                violation_error_message=f"Droplet is not known. Give one of: {', '.join(Droplet.values)}, or none.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"machine:{self.kind}"}

    def __str__(self) -> str:
        return self.name


class Material(HoldingRow):
    """Something that is used up. `restricted` needs a certified applicator."""

    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=30)
    active = models.CharField(max_length=120, blank=True, help_text="Active ingredients, comma separated.")
    analysis = models.CharField(max_length=60, blank=True)
    unit = models.CharField(max_length=20)
    pack_size = models.FloatField(null=True, blank=True)
    pack_price = models.FloatField(null=True, blank=True, help_text="Dollars a pack; without packs, a unit.")
    lead_days = models.PositiveSmallIntegerField(default=0)
    restricted = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["holding", "name"],
                name="material_name_once",
                violation_error_message="A material of this name is listed already.",
            ),
            models.CheckConstraint(
                condition=Q(pack_size__isnull=True) | Q(pack_size__gt=0),
                name="material_pack",
                violation_error_message="A pack holds more than 0.",
            ),
            models.CheckConstraint(
                condition=Q(pack_price__isnull=True) | Q(pack_price__gte=0, pack_price__lte=1_000_000),
                name="material_price",
                violation_error_message="A price lies from 0 to 1,000,000 dollars.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"material:{self.pk}", f"label:{self.pk}"}

    def __str__(self) -> str:
        return self.name


class Lot(HoldingRow):
    """One delivery of a material, by the number on the bag."""

    material = models.ForeignKey(Material, on_delete=models.CASCADE, related_name="lots")
    number = models.CharField(max_length=60)
    note = models.CharField(max_length=200, blank=True, help_text="Trait, treatment, germination, test date.")
    tolerates = models.CharField(
        max_length=200, blank=True, help_text="Active ingredients that a crop of this seed stands, comma separated."
    )
    purity_pct = models.FloatField(null=True, blank=True, help_text="Of the tag.")
    germination_pct = models.FloatField(null=True, blank=True, help_text="Of the tag.")
    dormant_pct = models.FloatField(null=True, blank=True, help_text="Hard or dormant seed, of the tag.")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(Q(purity_pct__isnull=True) | Q(purity_pct__gt=0, purity_pct__lte=100))
                & (Q(germination_pct__isnull=True) | Q(germination_pct__gt=0, germination_pct__lte=100))
                & (Q(dormant_pct__isnull=True) | Q(dormant_pct__gte=0, dormant_pct__lt=100))
                & (
                    Q(germination_pct__isnull=True)
                    | Q(dormant_pct__isnull=True)
                    | Q(germination_pct__lte=100 - F("dormant_pct"))
                ),
                name="lot_tag",
                violation_error_message=(
                    "Purity and germination lie above 0 to 100 percent, germination and hard seed together at most 100."
                ),
            ),
            models.UniqueConstraint(
                fields=["material", "number"],
                name="lot_once",
                violation_error_message="This lot is listed already.",
            ),
        ]

    def fact_keys(self) -> set[str]:
        return {f"lot:{self.pk}"}

    def __str__(self) -> str:
        return f"{self.material} lot {self.number}"


class StockMove(HoldingRow):
    """What came in (above 0) or was used (below 0); the stock is the sum, no balance is stored."""

    material = models.ForeignKey(Material, on_delete=models.CASCADE, related_name="moves")
    lot = models.ForeignKey(Lot, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    quantity = models.FloatField()
    at = models.DateTimeField()
    report_id = models.BigIntegerField(null=True, blank=True, help_text="The report that used it up.")
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(quantity=0),
                name="stock_move_some",
                violation_error_message="A movement is not 0.",
            ),
            models.UniqueConstraint(fields=["report_id", "material"], name="stock_move_report_once"),
        ]
        indexes = [models.Index(fields=["material", "at"], name="stock_move_time")]

    def clean(self) -> None:
        if self.lot is not None and self.lot.material_id != self.material_id:
            raise ValidationError({"lot": "This lot is of another material."})

    def fact_keys(self) -> set[str]:
        return {f"material:{self.material_id}"}

    def __str__(self) -> str:
        return f"{self.quantity:+g} of {self.material_id}"
