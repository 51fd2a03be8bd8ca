import django.db.models.deletion
from django.db import migrations, models

from core.guards import InstallGuards


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0004_evening_messages"),
        ("plots", "0002_guards"),
    ]

    operations = [
        migrations.CreateModel(
            name="TellFirst",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "operation",
                    models.CharField(blank=True, help_text="Key of a field operation, or empty.", max_length=30),
                ),
                ("hazard", models.CharField(blank=True, help_text="fire, pesticide ..., or empty.", max_length=30)),
                ("name", models.CharField(max_length=80)),
                (
                    "role",
                    models.CharField(
                        help_text="Why they hear of it: neighbour downwind, hives at the creek.", max_length=80
                    ),
                ),
                ("reach", models.CharField(help_text="How to reach them: a number, a mail, a door.", max_length=120)),
                ("lead_hours", models.PositiveSmallIntegerField(default=24)),
                ("note", models.CharField(blank=True, max_length=200)),
                (
                    "holding",
                    models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="+", to="core.holding"),
                ),
                (
                    "property",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="tell_first", to="plots.property"
                    ),
                ),
            ],
            options={
                "verbose_name": "person to tell first",
                "verbose_name_plural": "people to tell first",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("property", "operation", "hazard", "name"),
                        name="tell_first_once",
                        violation_error_message="They are listed for this already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("operation", ""), ("hazard", ""), _connector="OR"),
                        name="tell_first_one_kind",
                        violation_error_message="Give a field operation or a hazard, not both.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("lead_hours__gte", 1), ("lead_hours__lte", 720)),
                        name="tell_first_lead",
                        violation_error_message="They are told 1 to 720 hours before.",
                    ),
                ],
            },
        ),
        InstallGuards(),
    ]
