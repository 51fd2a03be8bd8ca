from django.db import migrations, models

from core.guards import GuardsLifted, InstallGuards


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0005_usual_check_in"),
        ("jobs", "0005_next_lists"),
    ]

    operations = [
        GuardsLifted(
            [
                migrations.AddField(
                    model_name="sheet",
                    name="droplet_microns",
                    field=models.FloatField(blank=True, help_text="Volume median diameter of the nozzles.", null=True),
                ),
                migrations.AddField(
                    model_name="sheet",
                    name="nozzle_in",
                    field=models.FloatField(
                        blank=True, help_text="Height of the nozzles above the soil or the crop.", null=True
                    ),
                ),
                migrations.AddField(
                    model_name="sheet",
                    name="spray_method",
                    field=models.CharField(
                        blank=True,
                        choices=[
                            ("boom", "Boom"),
                            ("backpack", "Backpack"),
                            ("hand", "by hand, wiper or gun"),
                            ("aerial", "Aerial"),
                            ("air_blast", "air blast"),
                            ("mist", "Mist"),
                            ("fog", "Fog"),
                            ("smoke", "Smoke"),
                            ("fumigant", "Fumigant"),
                        ],
                        max_length=10,
                    ),
                ),
                migrations.AddConstraint(
                    model_name="sheet",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            ("spray_method", ""),
                            (
                                "spray_method__in",
                                ["boom", "backpack", "hand", "aerial", "air_blast", "mist", "fog", "smoke", "fumigant"],
                            ),
                            _connector="OR",
                        ),
                        name="sheet_method_known",
                        violation_error_message="Method is not known. Give one of: boom, backpack, hand, aerial, air_blast, mist, fog, smoke, fumigant, or none.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="sheet",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("droplet_microns__isnull", True),
                                models.Q(("droplet_microns__gt", 0), ("droplet_microns__lte", 5000)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("nozzle_in__isnull", True),
                                models.Q(("nozzle_in__gte", 0), ("nozzle_in__lte", 1200)),
                                _connector="OR",
                            ),
                        ),
                        name="sheet_nozzles",
                        violation_error_message="Droplets have above 0 to 5,000 microns, nozzles stand 0 to 1,200 in high.",
                    ),
                ),
            ]
        ),
        InstallGuards(),
    ]
