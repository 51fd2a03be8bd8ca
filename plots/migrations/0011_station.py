from django.db import migrations, models

from core.guards import GuardsLifted, InstallGuards


class Migration(migrations.Migration):
    dependencies = [("plots", "0010_flood_stage")]

    operations = [
        GuardsLifted(
            [
                migrations.AddField(
                    model_name="property",
                    name="station",
                    field=models.CharField(
                        blank=True,
                        default="",
                        help_text=(
                            "The station near by whose daily history and normals are brought in, by its GHCN-Daily number."
                        ),
                        max_length=11,
                    ),
                ),
                migrations.AddConstraint(
                    model_name="property",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            ("station", ""), ("station__regex", "^[A-Z]{2}[A-Z0-9_-]{9}$"), _connector="OR"
                        ),
                        name="property_station",
                        violation_error_message=(
                            "A station's number has 11 signs: two letters, then capitals and digits."
                        ),
                    ),
                ),
            ]
        ),
        InstallGuards(),
    ]
