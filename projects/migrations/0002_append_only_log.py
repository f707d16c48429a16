"""The database itself refuses to change or delete a log entry, whoever asks."""

from django.db import migrations

from projects.record.log_guard import guard, unguard


class Migration(migrations.Migration):
    dependencies = [("projects", "0001_initial")]
    operations = [
        migrations.RunPython(
            lambda apps, editor: guard(editor.connection), lambda apps, editor: unguard(editor.connection)
        )
    ]
