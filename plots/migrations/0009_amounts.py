"""What calculators take from machines, tags and soil reports, and what a pack costs."""

import django.db.models.expressions
from django.db import migrations, models

from core.guards import GuardsLifted, InstallGuards


class Migration(migrations.Migration):

    dependencies = [
        ('plots', '0008_plant_backs'),
    ]

    operations = [GuardsLifted([
        migrations.AddField(
            model_name='lot',
            name='dormant_pct',
            field=models.FloatField(blank=True, help_text='Hard or dormant seed, of the tag.', null=True),
        ),
        migrations.AddField(
            model_name='lot',
            name='germination_pct',
            field=models.FloatField(blank=True, help_text='Of the tag.', null=True),
        ),
        migrations.AddField(
            model_name='lot',
            name='purity_pct',
            field=models.FloatField(blank=True, help_text='Of the tag.', null=True),
        ),
        migrations.AddField(
            model_name='machine',
            name='gallons_per_acre',
            field=models.FloatField(blank=True, help_text='Output at its speed, as last tested.', null=True),
        ),
        migrations.AddField(
            model_name='machine',
            name='nozzle_gpm',
            field=models.FloatField(blank=True, help_text='Of one nozzle, on the sheet of the tip.', null=True),
        ),
        migrations.AddField(
            model_name='machine',
            name='nozzle_psi',
            field=models.FloatField(blank=True, help_text='The pressure of that flow.', null=True),
        ),
        migrations.AddField(
            model_name='machine',
            name='row_in',
            field=models.FloatField(blank=True, help_text='From row to row, or from nozzle to nozzle.', null=True),
        ),
        migrations.AddField(
            model_name='machine',
            name='tank_gal',
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='material',
            name='pack_price',
            field=models.FloatField(blank=True, help_text='Dollars a pack; without packs, a unit.', null=True),
        ),
        migrations.AddField(
            model_name='soiltest',
            name='lime_lb',
            field=models.FloatField(blank=True, help_text='Effective neutralizing material asked for, lb an acre.', null=True),
        ),
        migrations.AddField(
            model_name='soiltest',
            name='nitrogen_lb',
            field=models.FloatField(blank=True, help_text='Asked for, lb an acre, for the crop to come.', null=True),
        ),
        migrations.AddField(
            model_name='soiltest',
            name='phosphate_lb',
            field=models.FloatField(blank=True, help_text='P2O5 asked for, lb an acre.', null=True),
        ),
        migrations.AddField(
            model_name='soiltest',
            name='potash_lb',
            field=models.FloatField(blank=True, help_text='K2O asked for, lb an acre.', null=True),
        ),
        migrations.AddConstraint(
            model_name='lot',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('purity_pct__isnull', True), models.Q(('purity_pct__gt', 0), ('purity_pct__lte', 100)), _connector='OR'), models.Q(('germination_pct__isnull', True), models.Q(('germination_pct__gt', 0), ('germination_pct__lte', 100)), _connector='OR'), models.Q(('dormant_pct__isnull', True), models.Q(('dormant_pct__gte', 0), ('dormant_pct__lt', 100)), _connector='OR'), models.Q(('germination_pct__isnull', True), ('dormant_pct__isnull', True), ('germination_pct__lte', django.db.models.expressions.CombinedExpression(models.Value(100), '-', models.F('dormant_pct'))), _connector='OR')), name='lot_tag', violation_error_message='Purity and germination lie above 0 to 100 percent, germination and hard seed together at most 100.'),
        ),
        migrations.AddConstraint(
            model_name='machine',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('row_in__isnull', True), models.Q(('row_in__gt', 0), ('row_in__lte', 120)), _connector='OR'), models.Q(('tank_gal__isnull', True), models.Q(('tank_gal__gt', 0), ('tank_gal__lte', 5000)), _connector='OR'), models.Q(('gallons_per_acre__isnull', True), models.Q(('gallons_per_acre__gt', 0), ('gallons_per_acre__lte', 200)), _connector='OR'), models.Q(('nozzle_gpm__isnull', True), models.Q(('nozzle_gpm__gt', 0), ('nozzle_gpm__lte', 10)), _connector='OR'), models.Q(('nozzle_psi__isnull', True), models.Q(('nozzle_psi__gt', 0), ('nozzle_psi__lte', 300)), _connector='OR')), name='machine_sprayer_figures', violation_error_message='Rows or nozzles stand above 0 to 120 in apart, a tank holds up to 5,000 gal, output lies above 0 to 200 gal an acre, a nozzle gives up to 10 gal a minute at up to 300 psi.'),
        ),
        migrations.AddConstraint(
            model_name='material',
            constraint=models.CheckConstraint(condition=models.Q(('pack_price__isnull', True), models.Q(('pack_price__gte', 0), ('pack_price__lte', 1000000)), _connector='OR'), name='material_price', violation_error_message='A price lies from 0 to 1,000,000 dollars.'),
        ),
        migrations.AddConstraint(
            model_name='soiltest',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('nitrogen_lb__isnull', True), models.Q(('nitrogen_lb__gte', 0), ('nitrogen_lb__lte', 400)), _connector='OR'), models.Q(('phosphate_lb__isnull', True), models.Q(('phosphate_lb__gte', 0), ('phosphate_lb__lte', 400)), _connector='OR'), models.Q(('potash_lb__isnull', True), models.Q(('potash_lb__gte', 0), ('potash_lb__lte', 500)), _connector='OR'), models.Q(('lime_lb__isnull', True), models.Q(('lime_lb__gte', 0), ('lime_lb__lte', 8000)), _connector='OR')), name='soil_test_asked', violation_error_message='Nitrogen and phosphate asked for lie from 0 to 400 lb an acre, potash to 500, lime to 8,000.'),
        ),
    ]), InstallGuards()]
