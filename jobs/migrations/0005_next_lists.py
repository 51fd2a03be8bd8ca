from django.db import migrations, models


class Migration(migrations.Migration):
    """Two small indexes for the two looks of the next lists in place of one over every reckoning, which also served no
    order: deadlines are sorted with those that have none last."""

    dependencies = [
        ("jobs", "0004_sheets"),
    ]

    operations = [
        migrations.RemoveIndex(
            model_name="reckoning",
            name="reckoning_next",
        ),
        migrations.AddIndex(
            model_name="reckoning",
            index=models.Index(
                condition=models.Q(("state__in", ["open", "under_way"])), fields=["holding"], name="reckoning_listed"
            ),
        ),
        migrations.AddIndex(
            model_name="reckoning",
            index=models.Index(
                condition=models.Q(("state", "held")), fields=["holding", "earliest_start"], name="reckoning_soon"
            ),
        ),
    ]
