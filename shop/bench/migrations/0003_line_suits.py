from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("bench", "0002_job_values"),
    ]

    operations = [
        migrations.AddField(
            model_name="line",
            name="suits",
            field=models.JSONField(
                blank=True, default=list, help_text="What spoke against the finish or for care when the route was laid."
            ),
        ),
    ]
