from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate, post_save

from projects.record.log_guard import guard


class ProjectsConfig(AppConfig):
    name = "projects"
    verbose_name = "Projects"

    def ready(self) -> None:
        post_migrate.connect(keep_the_log_guarded, sender=self)
        post_save.connect(hold_plans_against, sender="finishing.Forecast")


def keep_the_log_guarded(using: str, **kwargs: object) -> None:
    """SQLite forgets a table's triggers when a migration rebuilds it, so they go up again after each."""
    guard(connections[using])


def hold_plans_against(instance: Any, created: bool, raw: bool = False, **kwargs: object) -> None:
    """A new forecast, whoever fetched it: finishing, which keeps it, knows of no plans."""
    from projects.record.actions.changes import note_change

    if created and not raw:
        note_change(instance.workshop_id)
