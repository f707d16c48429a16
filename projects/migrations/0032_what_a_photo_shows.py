from django.db import migrations, models
import django.db.models.deletion


class Migration(migrations.Migration):
    """Apart from the one before: PostgreSQL changes no table whose rows were changed in the same transaction."""

    dependencies = [("projects", "0031_photos_by_project")]

    operations = [
        migrations.AlterField("photo", "project", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="photos", to="projects.project")),
        migrations.AlterField("photo", "taken_at", models.DateTimeField(verbose_name="taken")),
        migrations.AddIndex("photo", models.Index(fields=["project", "taken_at"], name="projects_ph_project_taken")),
    ]
