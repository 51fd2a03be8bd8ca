import django.core.validators
import django.db.models.deletion
from django.db import migrations, models

from core.guards import GuardsLifted, InstallGuards


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0004_evening_messages"),
        ("plots", "0005_river_gauges"),
    ]

    operations = [
        GuardsLifted(
            [
                migrations.CreateModel(
                    name="Label",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "entry_hours",
                            models.FloatField(
                                blank=True, help_text="Restricted-entry interval after the spray.", null=True
                            ),
                        ),
                        ("rain_fast_hours", models.FloatField(blank=True, null=True)),
                        ("wind_least_mph", models.FloatField(blank=True, null=True)),
                        ("wind_most_mph", models.FloatField(blank=True, null=True)),
                        (
                            "droplet",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("very_fine", "very fine"),
                                    ("fine", "Fine"),
                                    ("medium", "Medium"),
                                    ("coarse", "Coarse"),
                                    ("very_coarse", "very coarse"),
                                    ("extremely_coarse", "extremely coarse"),
                                    ("ultra_coarse", "ultra coarse"),
                                ],
                                help_text="The finest allowed.",
                                max_length=16,
                            ),
                        ),
                        (
                            "night_low_f",
                            models.FloatField(
                                blank=True, help_text="Lowest night temperature around the spray.", null=True
                            ),
                        ),
                        ("till_wait_days", models.FloatField(blank=True, null=True)),
                        ("mow_wait_days", models.FloatField(blank=True, null=True)),
                        (
                            "wash_known",
                            models.BooleanField(
                                default=False, help_text="The label was read for what the sprayer may do next."
                            ),
                        ),
                        (
                            "wash_before",
                            models.CharField(
                                blank=True,
                                help_text="Crops that need a washed sprayer after it; * for all.",
                                max_length=200,
                                validators=[
                                    django.core.validators.RegexValidator(
                                        "^[^,]+(, ?[^, ][^,]*)*$|^\\*$",
                                        "Names with commas between them, or * for all.",
                                    )
                                ],
                            ),
                        ),
                        (
                            "over_crops",
                            models.CharField(
                                blank=True,
                                help_text="Crops that it may be sprayed over whatever their lot; * for all.",
                                max_length=200,
                                validators=[
                                    django.core.validators.RegexValidator(
                                        "^[^,]+(, ?[^, ][^,]*)*$|^\\*$",
                                        "Names with commas between them, or * for all.",
                                    )
                                ],
                            ),
                        ),
                        ("checked_on", models.DateField(blank=True, null=True)),
                        ("source", models.CharField(blank=True, max_length=200)),
                    ],
                ),
                migrations.CreateModel(
                    name="LabelActive",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "active",
                            models.CharField(
                                max_length=60,
                                validators=[
                                    django.core.validators.RegexValidator("^\\S(.*\\S)?$", "Write the name alone.")
                                ],
                            ),
                        ),
                        (
                            "per_unit",
                            models.FloatField(help_text="Of the active in one unit of the material, in `unit`."),
                        ),
                        ("unit", models.CharField(help_text="Of the amounts, such as 'lb ae'.", max_length=12)),
                        (
                            "season_most_per_acre",
                            models.FloatField(blank=True, help_text="Per acre and calendar year.", null=True),
                        ),
                    ],
                ),
                migrations.AddField(
                    model_name="contract",
                    name="contract_acres",
                    field=models.FloatField(blank=True, null=True),
                ),
                migrations.AddField(
                    model_name="contract",
                    name="disturb_share",
                    field=models.FloatField(
                        blank=True,
                        help_text="Of the acres under contract, in one year: burned, mown, tilled, sprayed.",
                        null=True,
                    ),
                ),
                migrations.AddField(
                    model_name="contract",
                    name="exempt_acres",
                    field=models.FloatField(
                        blank=True, help_text="A contract of at most these is free of it.", null=True
                    ),
                ),
                migrations.AddField(
                    model_name="contract",
                    name="field_acres",
                    field=models.FloatField(
                        blank=True, help_text="Of the field that food plots are a share of.", null=True
                    ),
                ),
                migrations.AddField(
                    model_name="lot",
                    name="tolerates",
                    field=models.CharField(
                        blank=True,
                        help_text="Active ingredients that a crop of this seed stands, comma separated.",
                        max_length=200,
                    ),
                ),
                migrations.AddConstraint(
                    model_name="contract",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("disturb_share__isnull", True),
                                models.Q(("disturb_share__gt", 0), ("disturb_share__lte", 1)),
                                _connector="OR",
                            ),
                            models.Q(("field_acres__isnull", True), ("field_acres__gt", 0), _connector="OR"),
                            models.Q(("contract_acres__isnull", True), ("contract_acres__gt", 0), _connector="OR"),
                            models.Q(("exempt_acres__isnull", True), ("exempt_acres__gt", 0), _connector="OR"),
                        ),
                        name="contract_acres_positive",
                        violation_error_message="The yearly share lies above 0 and at most 1, acres above 0.",
                    ),
                ),
                migrations.AddField(
                    model_name="label",
                    name="holding",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="core.holding"
                    ),
                ),
                migrations.AddField(
                    model_name="label",
                    name="material",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="labels", to="plots.material"
                    ),
                ),
                migrations.AddField(
                    model_name="labelactive",
                    name="holding",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="core.holding"
                    ),
                ),
                migrations.AddField(
                    model_name="labelactive",
                    name="label",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="actives", to="plots.label"
                    ),
                ),
                migrations.AddConstraint(
                    model_name="label",
                    constraint=models.UniqueConstraint(
                        fields=("material",),
                        name="label_once",
                        violation_error_message="The label of this material is typed already. Change that one.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="label",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("entry_hours__isnull", True),
                                models.Q(("entry_hours__gte", 0), ("entry_hours__lte", 8760)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("rain_fast_hours__isnull", True),
                                models.Q(("rain_fast_hours__gte", 0), ("rain_fast_hours__lte", 168)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("till_wait_days__isnull", True),
                                models.Q(("till_wait_days__gte", 0), ("till_wait_days__lte", 1000)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("mow_wait_days__isnull", True),
                                models.Q(("mow_wait_days__gte", 0), ("mow_wait_days__lte", 1000)),
                                _connector="OR",
                            ),
                        ),
                        name="label_waits",
                        violation_error_message="Waits are 0 or more: entry up to 8,760 h, rain-fast up to 168 h, tilling and mowing up to 1,000 d.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="label",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("wind_least_mph__isnull", True),
                                models.Q(("wind_least_mph__gte", 0), ("wind_least_mph__lte", 60)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("wind_most_mph__isnull", True),
                                models.Q(("wind_most_mph__gte", 0), ("wind_most_mph__lte", 60)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("wind_least_mph__isnull", True),
                                ("wind_most_mph__isnull", True),
                                ("wind_least_mph__lte", models.F("wind_most_mph")),
                                _connector="OR",
                            ),
                        ),
                        name="label_wind",
                        violation_error_message="Wind is 0 to 60 mph, its least not above its most.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="label",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            ("droplet", ""),
                            (
                                "droplet__in",
                                [
                                    "very_fine",
                                    "fine",
                                    "medium",
                                    "coarse",
                                    "very_coarse",
                                    "extremely_coarse",
                                    "ultra_coarse",
                                ],
                            ),
                            _connector="OR",
                        ),
                        name="label_droplet_known",
                        violation_error_message="Droplet is not known. Give one of: very_fine, fine, medium, coarse, very_coarse, extremely_coarse, ultra_coarse, or none.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="label",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("wash_before", ""), ("wash_known", True), _connector="OR"),
                        name="label_wash_known",
                        violation_error_message="Crops that need a washed sprayer go with wash_known = true.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="labelactive",
                    constraint=models.UniqueConstraint(
                        fields=("label", "active"),
                        name="label_active_once",
                        violation_error_message="This active ingredient is listed already.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="labelactive",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            ("per_unit__gt", 0),
                            models.Q(
                                ("season_most_per_acre__isnull", True), ("season_most_per_acre__gt", 0), _connector="OR"
                            ),
                        ),
                        name="label_active_positive",
                        violation_error_message="Amounts lie above 0.",
                    ),
                ),
            ]
        ),
        InstallGuards(),
    ]
