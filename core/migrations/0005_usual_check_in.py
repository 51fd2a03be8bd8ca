from django.db import migrations, models

from core.guards import GuardsLifted, InstallGuards


class Migration(migrations.Migration):

    dependencies = [
        ('core', '0004_evening_messages'),
    ]

    operations = [GuardsLifted([
        migrations.AddField(
            model_name='holding',
            name='check_in_contact',
            field=models.CharField(blank=True, help_text='Who usually waits for the check-ins, and how they are reached.', max_length=120),
        ),
        migrations.AddField(
            model_name='holding',
            name='check_in_minutes',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Usual time between two check-ins of somebody who works alone.', null=True),
        ),
        migrations.AddConstraint(
            model_name='holding',
            constraint=models.CheckConstraint(condition=models.Q(('check_in_minutes__isnull', True), models.Q(('check_in_minutes__gte', 5), ('check_in_minutes__lte', 720)), _connector='OR'), name='holding_check_in', violation_error_message='A check-in comes every 5 to 720 minutes.'),
        ),
    ]), InstallGuards()]
