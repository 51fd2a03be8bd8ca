from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("core", "0002_guards")]

    operations = [
        migrations.CreateModel(
            name="Heartbeat",
            fields=[
                ("name", models.SlugField(max_length=40, primary_key=True, serialize=False)),
                ("at", models.DateTimeField()),
            ],
        ),
    ]
