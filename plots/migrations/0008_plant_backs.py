import django.db.models.deletion
from django.db import migrations, models

from core.guards import GuardsLifted, InstallGuards


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0005_usual_check_in"),
        ("plots", "0007_limits"),
    ]

    operations = [
        GuardsLifted(
            [
                migrations.CreateModel(
                    name="PlantBack",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "crop",
                            models.CharField(
                                blank=True, help_text="Key of a crop; empty: any that is not named.", max_length=40
                            ),
                        ),
                        ("days", models.FloatField(help_text="0 where the label asks for no wait.")),
                        (
                            "after_rain_in",
                            models.FloatField(
                                blank=True, help_text="The days begin after so much rain on one day.", null=True
                            ),
                        ),
                    ],
                ),
                migrations.AddField(
                    model_name="contract",
                    name="least_acres",
                    field=models.FloatField(blank=True, help_text="The least of each food plot.", null=True),
                ),
                migrations.AddField(
                    model_name="contract",
                    name="least_width_ft",
                    field=models.FloatField(blank=True, help_text="The least width of each food plot.", null=True),
                ),
                migrations.AddField(
                    model_name="plot",
                    name="narrowest_ft",
                    field=models.FloatField(blank=True, help_text="Width of the narrowest place.", null=True),
                ),
                migrations.AddConstraint(
                    model_name="contract",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("least_acres__isnull", True), ("least_acres__gt", 0), _connector="OR"),
                            models.Q(("least_width_ft__isnull", True), ("least_width_ft__gt", 0), _connector="OR"),
                        ),
                        name="contract_least_positive",
                        violation_error_message="The least of a food plot is above 0 acres and above 0 ft wide.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="plot",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("narrowest_ft__isnull", True), ("narrowest_ft__gt", 0), _connector="OR"),
                        name="plot_width_positive",
                        violation_error_message="The narrowest place is above 0 ft wide.",
                    ),
                ),
                migrations.AddField(
                    model_name="plantback",
                    name="holding",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="core.holding"
                    ),
                ),
                migrations.AddField(
                    model_name="plantback",
                    name="label",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="plant_backs", to="plots.label"
                    ),
                ),
                migrations.AddConstraint(
                    model_name="plantback",
                    constraint=models.UniqueConstraint(
                        fields=("label", "crop"),
                        name="plant_back_once",
                        violation_error_message="The wait of this crop is typed already. Change that one.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="plantback",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            ("days__gte", 0),
                            ("days__lte", 1500),
                            models.Q(
                                ("after_rain_in__isnull", True),
                                models.Q(("after_rain_in__gt", 0), ("after_rain_in__lte", 20)),
                                _connector="OR",
                            ),
                        ),
                        name="plant_back_wait",
                        violation_error_message="The wait is 0 to 1,500 days, the rain above 0 and at most 20 in.",
                    ),
                ),
            ]
        ),
        InstallGuards(),
    ]
