from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate


class ProjectsConfig(AppConfig):
    name = "projects"
    verbose_name = "Projects"

    def ready(self) -> None:
        post_migrate.connect(keep_the_log_guarded, sender=self)


def keep_the_log_guarded(using: str, **kwargs: object) -> None:
    """SQLite forgets a table's triggers when a migration rebuilds it, so they go up again after each."""
    from .models.log_guard import guard

    if "projects_step" in connections[using].introspection.table_names():
        guard(connections[using])
