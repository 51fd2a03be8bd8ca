from django.db import migrations

from core.guards import InstallGuards
from jobs.guards import GUARDS


class Migration(migrations.Migration):
    dependencies = [("plots", "0002_guards"), ("jobs", "0001_initial")]
    operations = [InstallGuards(*GUARDS)]
