from django.db import migrations, models

from core.guards import GuardsLifted, InstallGuards


class Migration(migrations.Migration):
    dependencies = [("jobs", "0002_guards")]
    operations = [
        GuardsLifted([migrations.AddField("reckoning", "windows", models.JSONField(null=True))]),
        InstallGuards(),
    ]
