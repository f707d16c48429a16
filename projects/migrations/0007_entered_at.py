import django.utils.timezone
from django.db import migrations, models

ENTERED = "Of two at the same moment, the one entered later counts."


def entered_at() -> models.DateTimeField:
    return models.DateTimeField(default=django.utils.timezone.now, editable=False, help_text=ENTERED)


class Migration(migrations.Migration):
    dependencies = [("projects", "0006_costs")]

    operations = [
        migrations.AlterModelOptions(name="fitting", options={"ordering": ["fitted_at", "entered_at"]}),
        migrations.AlterModelOptions(name="trial", options={"ordering": ["tried_at", "entered_at"]}),
        migrations.AddField(model_name="fitting", name="entered_at", field=entered_at()),
        migrations.AddField(model_name="trial", name="entered_at", field=entered_at()),
    ]
