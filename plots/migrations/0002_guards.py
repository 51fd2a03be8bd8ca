from django.db import migrations

from core.guards import InstallGuards


class Migration(migrations.Migration):
    dependencies = [("core", "0002_guards"), ("plots", "0001_initial")]
    operations = [InstallGuards()]
