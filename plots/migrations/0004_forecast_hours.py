import django.db.models.deletion
from django.db import migrations, models

NEW = (
    "dew_point_f",
    "sky_pct",
    "rain_chance_pct",
    "thunder_pct",
    "lightning_level",
    "mixing_ft",
    "transport_mph",
    "transport_dir_deg",
)
KINDS = [("observed", "Observed"), ("forecast", "Forecast")]


class Migration(migrations.Migration):
    dependencies = [("plots", "0003_tell_first")]

    operations = [
        *(migrations.AddField("hour", name, models.FloatField(null=True, blank=True)) for name in NEW),
        migrations.CreateModel(
            name="Fetched",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("url", models.CharField(max_length=400, unique=True)),
                ("body", models.BinaryField()),
                ("etag", models.CharField(blank=True, max_length=200)),
                ("last_modified", models.CharField(blank=True, max_length=60)),
                ("fetched_at", models.DateTimeField()),
                (
                    "failed_at",
                    models.DateTimeField(blank=True, help_text="Since when it fails, empty while it does not.", null=True),
                ),
                ("failure", models.CharField(blank=True, max_length=200)),
            ],
            options={"verbose_name_plural": "fetched"},
        ),
        migrations.CreateModel(
            name="RainTotal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("starts", models.DateTimeField()),
                ("ends", models.DateTimeField()),
                ("kind", models.CharField(choices=KINDS, default="forecast", max_length=8)),
                ("issued_at", models.DateTimeField(blank=True, null=True)),
                ("rain_in", models.FloatField()),
                (
                    "series",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="rain_totals", to="plots.series"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("series", "starts", "ends", "kind"), name="rain_total_once"),
                    models.CheckConstraint(
                        condition=models.Q(("starts__lt", models.F("ends"))),
                        name="rain_total_order",
                        violation_error_message="The stretch of rain ends before it starts.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("rain_in__gte", 0), ("rain_in__lte", 60)),
                        name="rain_total_range",
                        violation_error_message="Rain of 0 to 60 in.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["observed", "forecast"])),
                        name="rain_total_kind_known",
                        violation_error_message="Kind is not known. Give one of: observed, forecast.",
                    ),
                ],
            },
        ),
    ]
