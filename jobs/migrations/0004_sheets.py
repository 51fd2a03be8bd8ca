import django.db.models.deletion
from django.db import migrations, models

from core.guards import InstallGuards


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0004_evening_messages"),
        ("jobs", "0003_windows"),
    ]

    operations = [
        migrations.CreateModel(
            name="Sheet",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "purpose",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("weeds", "against weeds, seed or shade"),
                            ("stand", "for the stand as the plan says"),
                            ("firebreak", "Firebreak"),
                            ("cosmetic", "looks, or every year alike"),
                        ],
                        max_length=10,
                    ),
                ),
                ("permit_needed", models.BooleanField(blank=True, help_text="Empty: nobody has asked yet.", null=True)),
                ("permit_number", models.CharField(blank=True, max_length=60)),
                ("permit_issued_on", models.DateField(blank=True, null=True)),
                (
                    "permit_expires_on",
                    models.DateField(blank=True, help_text="The last day on which it is valid.", null=True),
                ),
                (
                    "permit_most_days",
                    models.PositiveSmallIntegerField(
                        blank=True, help_text="The most that the state lets a permit last after its issue.", null=True
                    ),
                ),
                (
                    "least_crew",
                    models.PositiveSmallIntegerField(blank=True, help_text="As the written plan says.", null=True),
                ),
                ("fuel_height_ft", models.FloatField(blank=True, null=True)),
                (
                    "break_width_ft",
                    models.FloatField(blank=True, help_text="The narrowest place of the firebreak.", null=True),
                ),
                (
                    "break_least_ft",
                    models.FloatField(blank=True, help_text="The least that the state's standard asks.", null=True),
                ),
                (
                    "signs",
                    models.BooleanField(
                        blank=True, help_text="Whether signs are needed here; empty: as the rule.", null=True
                    ),
                ),
                ("agency_checked_on", models.DateField(blank=True, null=True)),
                ("agency_county", models.CharField(blank=True, max_length=60)),
                (
                    "check_in_minutes",
                    models.PositiveSmallIntegerField(blank=True, help_text="Between two check-ins.", null=True),
                ),
                (
                    "contact",
                    models.CharField(
                        blank=True, help_text="Who waits for the check-in, and how reached.", max_length=120
                    ),
                ),
                (
                    "boss",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="core.person",
                    ),
                ),
                (
                    "holding",
                    models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="+", to="core.holding"),
                ),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="sheets", to="jobs.job"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("job",),
                        name="sheet_once",
                        violation_error_message="The sheet of this job is there already.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("purpose", ""),
                            ("purpose__in", ["weeds", "stand", "firebreak", "cosmetic"]),
                            _connector="OR",
                        ),
                        name="sheet_purpose_known",
                        violation_error_message="Purpose is not known. Give one of: weeds, stand, firebreak, cosmetic, or none.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("permit_issued_on__lte", models.F("permit_expires_on")),
                            ("permit_issued_on__isnull", True),
                            ("permit_expires_on__isnull", True),
                            _connector="OR",
                        ),
                        name="sheet_permit_order",
                        violation_error_message="The permit ends before it is issued. Give a last day on or after the day of issue.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("fuel_height_ft__isnull", True),
                                models.Q(("fuel_height_ft__gt", 0), ("fuel_height_ft__lte", 60)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("break_width_ft__isnull", True),
                                models.Q(("break_width_ft__gte", 0), ("break_width_ft__lte", 1000)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("break_least_ft__isnull", True),
                                models.Q(("break_least_ft__gt", 0), ("break_least_ft__lte", 1000)),
                                _connector="OR",
                            ),
                        ),
                        name="sheet_firebreak",
                        violation_error_message="Fuel height lies above 0 and at most 60 ft, widths at most 1,000 ft.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("check_in_minutes__isnull", True),
                            models.Q(("check_in_minutes__gte", 5), ("check_in_minutes__lte", 720)),
                            _connector="OR",
                        ),
                        name="sheet_check_in",
                        violation_error_message="A check-in comes every 5 to 720 minutes.",
                    ),
                ],
            },
        ),
        InstallGuards(),
    ]
