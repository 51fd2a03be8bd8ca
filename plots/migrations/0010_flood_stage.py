from django.db import migrations, models

from core.guards import GuardsLifted, InstallGuards


class Migration(migrations.Migration):
    dependencies = [("plots", "0009_amounts")]

    operations = [
        GuardsLifted(
            [
                migrations.AddField(
                    model_name="plot",
                    name="flood_ft",
                    field=models.FloatField(
                        blank=True,
                        help_text="Stage in feet on the property's gauge at which the plot is under water.",
                        null=True,
                    ),
                ),
                migrations.AddConstraint(
                    model_name="plot",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            ("flood_ft__isnull", True),
                            models.Q(("flood_ft__gte", -50), ("flood_ft__lte", 500)),
                            _connector="OR",
                        ),
                        name="plot_flood_stage",
                        violation_error_message="A stage lies between -50 and 500 ft.",
                    ),
                ),
            ]
        ),
        InstallGuards(),
    ]
