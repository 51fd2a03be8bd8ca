from django.db import migrations

from core.guards import InstallGuards, append_only


class Migration(migrations.Migration):
    dependencies = [("core", "0001_initial")]
    operations = [InstallGuards(*append_only("core_event", "A line of the log"))]
