"""Limits of the holding's own, heights and droplets, freeze days; the gauge of a property stands in one place alone."""

import django.db.models.deletion
from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import F, Value
from django.db.models.functions import Concat

from core.guards import GuardsLifted, InstallGuards


def keep_gauges(apps: Apps, editor: BaseDatabaseSchemaEditor) -> None:
    """A site number becomes the property's gauge, unless it has one; what else was typed goes to the access notes."""
    alias = editor.connection.alias
    places = apps.get_model("plots", "Property").objects.using(alias)
    gauges = apps.get_model("plots", "PropertyGauge").objects.using(alias)
    tied = set(gauges.values_list("property_id", flat=True))
    for place in places.exclude(river_gauge="").order_by("id"):
        text = place.river_gauge.strip()
        if text.isascii() and text.isdigit() and 8 <= len(text) <= 15 and place.pk not in tied:
            gauges.create(holding_id=place.holding_id, property_id=place.pk, site=text)
        elif text and not gauges.filter(property_id=place.pk, site=text).exists():
            between = "\n" if place.access_notes else ""
            note = Concat(F("access_notes"), Value(f"{between}River gauge: {text}"))
            places.filter(pk=place.pk).update(access_notes=note)
    if editor.connection.vendor == "postgresql":
        editor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def give_back(apps: Apps, editor: BaseDatabaseSchemaEditor) -> None:
    """The text again from the property's gauge, which stays."""
    alias = editor.connection.alias
    places = apps.get_model("plots", "Property").objects.using(alias)
    gauges = apps.get_model("plots", "PropertyGauge").objects.using(alias)
    for place, site in gauges.values_list("property_id", "site"):
        places.filter(pk=place).update(river_gauge=site)
    if editor.connection.vendor == "postgresql":
        editor.execute("SET CONSTRAINTS ALL IMMEDIATE")


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0005_usual_check_in"),
        ("plots", "0006_labels"),
    ]

    operations = [
        GuardsLifted(
            [
                migrations.RunPython(keep_gauges, give_back),
                migrations.CreateModel(
                    name="OwnLimit",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        (
                            "quantity",
                            models.CharField(
                                choices=[
                                    ("wind_mph", "wind, mph"),
                                    ("gust_mph", "gusts, mph"),
                                    ("temp_f", "temperature, F"),
                                    ("humidity_pct", "relative humidity, %"),
                                    ("heat_index_f", "heat index, F"),
                                    ("felt_cold_f", "wind chill, F"),
                                    ("wet_bulb_depression_f", "wet-bulb depression, F"),
                                    ("thunder_pct", "chance of thunder, %"),
                                    ("rain_chance_pct", "chance of rain, %"),
                                    ("mixing_ft", "mixing height, ft"),
                                    ("soil_temp_f", "soil temperature, F"),
                                ],
                                max_length=24,
                            ),
                        ),
                        ("least", models.FloatField(blank=True, null=True)),
                        ("most", models.FloatField(blank=True, null=True)),
                        (
                            "operation",
                            models.CharField(
                                blank=True, help_text="Key of a field operation; empty: all outdoors.", max_length=30
                            ),
                        ),
                        ("note", models.CharField(blank=True, max_length=200)),
                    ],
                ),
                migrations.RemoveField(
                    model_name="property",
                    name="river_gauge",
                ),
                migrations.AddField(
                    model_name="label",
                    name="crop_least_in",
                    field=models.FloatField(blank=True, help_text="Least height of the crop it goes over.", null=True),
                ),
                migrations.AddField(
                    model_name="label",
                    name="crop_most_in",
                    field=models.FloatField(
                        blank=True, help_text="Greatest height of the crop it goes over.", null=True
                    ),
                ),
                migrations.AddField(
                    model_name="label",
                    name="weed_most_in",
                    field=models.FloatField(
                        blank=True, help_text="Greatest height of the weeds it controls.", null=True
                    ),
                ),
                migrations.AddField(
                    model_name="machine",
                    name="droplet",
                    field=models.CharField(
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
                        help_text="Of a sprayer: what its nozzles give as set.",
                        max_length=16,
                    ),
                ),
                migrations.AddField(
                    model_name="series",
                    name="freeze",
                    field=models.JSONField(
                        blank=True,
                        default=dict,
                        help_text="Freeze days of the normals: {'32': {'spring': {'10': '05-11'}, ...}}.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="label",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("crop_least_in__isnull", True),
                                models.Q(("crop_least_in__gte", 0), ("crop_least_in__lte", 600)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("crop_most_in__isnull", True),
                                models.Q(("crop_most_in__gt", 0), ("crop_most_in__lte", 600)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("weed_most_in__isnull", True),
                                models.Q(("weed_most_in__gt", 0), ("weed_most_in__lte", 600)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("crop_least_in__isnull", True),
                                ("crop_most_in__isnull", True),
                                ("crop_least_in__lte", models.F("crop_most_in")),
                                _connector="OR",
                            ),
                        ),
                        name="label_heights",
                        violation_error_message="Heights lie above 0 and at most 600 in, the crop's least not above its most.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="machine",
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
                        name="machine_droplet_known",
                        violation_error_message="Droplet is not known. Give one of: very_fine, fine, medium, coarse, very_coarse, extremely_coarse, ultra_coarse, or none.",
                    ),
                ),
                migrations.AddField(
                    model_name="ownlimit",
                    name="holding",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="core.holding"
                    ),
                ),
                migrations.AddField(
                    model_name="ownlimit",
                    name="machine",
                    field=models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="plots.machine",
                    ),
                ),
                migrations.AddField(
                    model_name="ownlimit",
                    name="person",
                    field=models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="core.person",
                    ),
                ),
                migrations.AddField(
                    model_name="ownlimit",
                    name="plot",
                    field=models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="plots.plot",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="ownlimit",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            (
                                "quantity__in",
                                [
                                    "wind_mph",
                                    "gust_mph",
                                    "temp_f",
                                    "humidity_pct",
                                    "heat_index_f",
                                    "felt_cold_f",
                                    "wet_bulb_depression_f",
                                    "thunder_pct",
                                    "rain_chance_pct",
                                    "mixing_ft",
                                    "soil_temp_f",
                                ],
                            )
                        ),
                        name="own_limit_quantity_known",
                        violation_error_message="Quantity is not known. Give one of: wind_mph, gust_mph, temp_f, humidity_pct, heat_index_f, felt_cold_f, wet_bulb_depression_f, thunder_pct, rain_chance_pct, mixing_ft, soil_temp_f.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="ownlimit",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("least__isnull", False), ("most__isnull", False), _connector="OR"),
                            models.Q(
                                ("least__isnull", True),
                                ("most__isnull", True),
                                ("least__lte", models.F("most")),
                                _connector="OR",
                            ),
                        ),
                        name="own_limit_bounds",
                        violation_error_message="Give the least, the most or both, the least not above the most.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="ownlimit",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("machine__isnull", True), ("plot__isnull", True)),
                            models.Q(("machine__isnull", True), ("person__isnull", True)),
                            models.Q(("person__isnull", True), ("plot__isnull", True)),
                            _connector="OR",
                        ),
                        name="own_limit_of_one",
                        violation_error_message="A limit is of one machine, one plot or one person, or of the whole holding.",
                    ),
                ),
            ]
        ),
        InstallGuards(),
    ]
