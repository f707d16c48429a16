"""An additive was in use for all coats of its tin; now each layer says what it has stirred in."""

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def stir_in(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    additives = apps.get_model("finishing", "Additive").objects
    layers = apps.get_model("finishing", "Layer").objects
    for additive in additives.filter(used=True):
        for layer in layers.filter(coating=additive.coating_id):
            layer.additives.add(additive)


class Migration(migrations.Migration):
    dependencies = [("finishing", "0010_hours_of_the_table")]

    operations = [
        migrations.AddField(
            model_name="layer",
            name="additives",
            field=models.ManyToManyField(
                blank=True,
                help_text="As its coating offers them.",
                related_name="layers",
                to="finishing.additive",
                verbose_name="stirred in",
            ),
        ),
        migrations.RunPython(stir_in, migrations.RunPython.noop),
        migrations.RemoveField(model_name="additive", name="used"),
        migrations.AddField(
            model_name="additive",
            name="price",
            field=models.DecimalField(
                blank=True, decimal_places=2, max_digits=9, null=True, verbose_name="price of a litre"
            ),
        ),
    ]
