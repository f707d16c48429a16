"""What an older version left in the queue of the planner's worker goes on under the names of today."""

from django.db import migrations

MAKE = ("projects.actions.plan_tasks.make", "projects.plans.actions.tasks.make")
RECHECK = "projects.actions.plan_tasks.recheck"


def rename(apps, schema_editor):
    Task = apps.get_model("django_tasks_database", "DBTaskResult")
    Task.objects.filter(task_path=MAKE[0]).update(task_path=MAKE[1])
    waiting = Task.objects.filter(task_path=RECHECK, status="READY")
    Workshop = apps.get_model("finishing", "Workshop")
    asked = {task.args_kwargs["args"][0] for task in waiting}
    apps.get_model("projects", "Change").objects.bulk_create(
        apps.get_model("projects", "Change")(workshop=workshop) for workshop in Workshop.objects.filter(pk__in=asked)
    )
    waiting.delete()


class Migration(migrations.Migration):
    dependencies = [
        ("projects", "0014_changes"),
        ("django_tasks_database", "0021_conditional_partial_index_ordering"),
    ]
    operations = [migrations.RunPython(rename, migrations.RunPython.noop)]
