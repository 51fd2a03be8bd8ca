import django.db.models.deletion
from django.db import migrations, models

from core.guards import InstallGuards

SITE = r"^\d{8,15}$"
NO_SITE = "A site number has 8 to 15 digits."
KINDS = [("observed", "Observed"), ("forecast", "Forecast")]


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0004_evening_messages"),
        ("plots", "0004_forecast_hours"),
    ]

    operations = [
        migrations.CreateModel(
            name="Gauge",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("site", models.CharField(max_length=15, unique=True)),
                ("name", models.CharField(blank=True, max_length=120)),
                (
                    "lid",
                    models.CharField(
                        blank=True, help_text="The Weather Service's own name of the gauge.", max_length=10
                    ),
                ),
                ("action_ft", models.FloatField(blank=True, null=True)),
                ("minor_ft", models.FloatField(blank=True, null=True)),
                ("moderate_ft", models.FloatField(blank=True, null=True)),
                ("major_ft", models.FloatField(blank=True, null=True)),
                ("category", models.CharField(blank=True, max_length=30)),
                (
                    "told_at",
                    models.DateTimeField(
                        blank=True, help_text="When the Weather Service was last heard.", null=True
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("site__regex", SITE)), name="gauge_site", violation_error_message=NO_SITE
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="PropertyGauge",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.CharField(
                        help_text="The site number of the U.S. Geological Survey, 8 to 15 digits.", max_length=15
                    ),
                ),
                (
                    "level_ft",
                    models.FloatField(
                        blank=True,
                        help_text="Stage in feet on this gauge at which the access is under water.",
                        null=True,
                    ),
                ),
                ("margin_ft", models.FloatField(default=1.0)),
                ("hours_down", models.PositiveSmallIntegerField(default=24)),
                (
                    "use_action",
                    models.BooleanField(
                        default=True, help_text="Close at the gauge's action stage while no own level is set."
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=200)),
                (
                    "holding",
                    models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="+", to="core.holding"),
                ),
                (
                    "property",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="gauges", to="plots.property"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("property",),
                        name="property_gauge_once",
                        violation_error_message="This property has its gauge already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("site__regex", SITE)),
                        name="property_gauge_site",
                        violation_error_message=NO_SITE,
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("level_ft__isnull", True),
                                models.Q(("level_ft__gte", -50), ("level_ft__lte", 500)),
                                _connector="OR",
                            ),
                            ("margin_ft__gt", 0),
                            ("margin_ft__lte", 50),
                            ("hours_down__gte", 1),
                            ("hours_down__lte", 72),
                        ),
                        name="property_gauge_figures",
                        violation_error_message=(
                            "The level lies between -50 and 500 ft, the margin above 0 and at most 50 ft, "
                            "the hours between 1 and 72."
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Reading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("kind", models.CharField(choices=KINDS, default="observed", max_length=8)),
                ("feet", models.FloatField()),
                ("issued_at", models.DateTimeField(blank=True, null=True)),
                (
                    "gauge",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="readings", to="plots.gauge"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("gauge", "at", "kind"), name="reading_once"),
                    models.CheckConstraint(
                        condition=models.Q(("feet__gte", -50), ("feet__lte", 500)),
                        name="reading_range",
                        violation_error_message="A stage of -50 to 500 ft.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["observed", "forecast"])),
                        name="reading_kind_known",
                        violation_error_message="Kind is not known. Give one of: observed, forecast.",
                    ),
                ],
            },
        ),
        InstallGuards(),
    ]
