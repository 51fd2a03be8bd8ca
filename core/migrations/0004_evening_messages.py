import datetime

import django.db.models.deletion
from django.db import migrations, models

from core.guards import GuardsLifted, InstallGuards


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0003_heartbeat"),
    ]

    operations = [
        GuardsLifted(
            [
                migrations.RemoveConstraint(
                    model_name="notice",
                    name="notice_news_once",
                ),
                migrations.RemoveConstraint(
                    model_name="notice",
                    name="notice_state_known",
                ),
                migrations.RemoveConstraint(
                    model_name="notice",
                    name="notice_way_known",
                ),
                migrations.RemoveConstraint(
                    model_name="way",
                    name="way_kind_known",
                ),
                migrations.AddField(
                    model_name="notice",
                    name="folded_into",
                    field=models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="folded",
                        to="core.notice",
                    ),
                ),
                migrations.AddField(
                    model_name="notice",
                    name="weight",
                    field=models.CharField(
                        choices=[("news", "News"), ("call", "Call"), ("alarm", "Alarm")], default="call", max_length=8
                    ),
                ),
                migrations.AddField(
                    model_name="person",
                    name="evening_at",
                    field=models.TimeField(
                        default=datetime.time(18, 0), help_text="When the evening message goes, in the person's zone."
                    ),
                ),
                migrations.AddField(
                    model_name="way",
                    name="stopped_at",
                    field=models.DateTimeField(
                        blank=True, help_text="Since when the person wants nothing this way.", null=True
                    ),
                ),
                migrations.AlterField(
                    model_name="notice",
                    name="state",
                    field=models.CharField(
                        choices=[
                            ("queued", "Queued"),
                            ("claimed", "Claimed"),
                            ("sent", "Sent"),
                            ("folded", "Folded"),
                            ("withdrawn", "Withdrawn"),
                            ("parked", "Parked"),
                        ],
                        default="queued",
                        max_length=10,
                    ),
                ),
                migrations.AlterField(
                    model_name="notice",
                    name="way_kind",
                    field=models.CharField(
                        choices=[("mail", "Mail"), ("file", "File"), ("console", "Console"), ("webhook", "Webhook")],
                        max_length=8,
                    ),
                ),
                migrations.AlterField(
                    model_name="way",
                    name="kind",
                    field=models.CharField(
                        choices=[("mail", "Mail"), ("file", "File"), ("console", "Console"), ("webhook", "Webhook")],
                        max_length=8,
                    ),
                ),
                migrations.AddConstraint(
                    model_name="notice",
                    constraint=models.UniqueConstraint(
                        fields=("person", "kind", "job_id", "basis", "way"), name="notice_news_once"
                    ),
                ),
                migrations.AddConstraint(
                    model_name="notice",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            ("state__in", ["queued", "claimed", "sent", "folded", "withdrawn", "parked"])
                        ),
                        name="notice_state_known",
                        violation_error_message="State is not known. Give one of: queued, claimed, sent, folded, withdrawn, parked.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="notice",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("way_kind__in", ["mail", "file", "console", "webhook"])),
                        name="notice_way_known",
                        violation_error_message="Way kind is not known. Give one of: mail, file, console, webhook.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="notice",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("weight__in", ["news", "call", "alarm"])),
                        name="notice_weight_known",
                        violation_error_message="Weight is not known. Give one of: news, call, alarm.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="way",
                    constraint=models.CheckConstraint(
                        condition=models.Q(("kind__in", ["mail", "file", "console", "webhook"])),
                        name="way_kind_known",
                        violation_error_message="Kind is not known. Give one of: mail, file, console, webhook.",
                    ),
                ),
            ]
        ),
        InstallGuards(),
    ]
