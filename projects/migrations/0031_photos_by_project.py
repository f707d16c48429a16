from django.db import migrations, models
from django.db.models import Case, OuterRef, Subquery, Value, When
import django.db.models.deletion
import uuid

CHAPTERS = [
    ("found", "as it came"), ("apart", "taken apart"), ("repaired", "repaired"), ("blasted", "blasted"),
    ("primed", "primed"), ("coated", "in its colour"), ("lettered", "lettered"), ("together", "put together"),
]
BARE = ("blasted", "came clean", "dried", "looked", "bloom", "wetted", "prepared")
PAINTED = ("coated", "turned", "touched up", "wrinkled", "damaged")


def tell_where_they_belong(apps, schema_editor):
    """A photo was of an entry: of its piece's project, taken when it happened, showing what such entries are about."""
    Step = apps.get_model("projects", "Step")
    of_step = Step.objects.filter(pk=OuterRef("step"))
    shows = of_step.annotate(
        shows=Case(
            When(kind__in=BARE, then=Value("blasted")),
            When(kind="coated", layer__coating__is_primer=True, then=Value("primed")),
            When(kind__in=PAINTED, then=Value("coated")),
            When(kind="lettered", then=Value("lettered")),
            default=Value("found"),
        )
    )
    apps.get_model("projects", "Photo").objects.update(
        project=Subquery(of_step.values("piece__project")[:1]),
        taken_at=Subquery(of_step.values("happened_at")[:1]),
        stage=Subquery(shows.values("shows")[:1]),
    )


class Migration(migrations.Migration):
    dependencies = [("projects", "0030_costs_of_plans")]

    operations = [
        migrations.CreateModel(
            name="StoryPage",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("stage", models.CharField(choices=CHAPTERS, max_length=10)),
                ("words", models.TextField(blank=True, max_length=3000, verbose_name="in words")),
                ("shared", models.BooleanField(default=False, verbose_name="the customer may read it")),
                ("project", models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="story_pages", to="projects.project")),
                ("workshop", models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="+", to="finishing.workshop")),
            ],
        ),
        migrations.AddConstraint(
            model_name="storypage",
            constraint=models.UniqueConstraint(fields=("project", "stage"), name="one_story_page_of_a_stage"),
        ),
        migrations.AddField("photo", "project", models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name="photos", to="projects.project")),
        migrations.AddField("photo", "machine", models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="photos", to="projects.machine")),
        migrations.AddField("photo", "taken_at", models.DateTimeField(null=True, verbose_name="taken")),
        migrations.AddField("photo", "stage", models.CharField(choices=CHAPTERS, default="found", max_length=10, verbose_name="shows it"), preserve_default=False),
        migrations.AddField("photo", "caption", models.CharField(blank=True, max_length=300)),
        migrations.AddField("photo", "kept_back", models.BooleanField(default=False, verbose_name="not for the customer")),
        migrations.AlterField("photo", "step", models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="photos", to="projects.step")),
        migrations.RunPython(tell_where_they_belong, migrations.RunPython.noop),
    ]
