from typing import Any
from uuid import UUID

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate, post_save, pre_migrate

from projects.record.log_guard import guard, unguard


class ProjectsConfig(AppConfig):
    name = "projects"
    verbose_name = "Projects"

    def ready(self) -> None:
        pre_migrate.connect(leave_the_log_to_migrations, sender=self)
        post_migrate.connect(keep_the_log_guarded, sender=self)
        post_migrate.connect(keep_states_anew, sender=self)
        post_save.connect(hold_plans_against, sender="finishing.Forecast")
        post_save.connect(hold_plans_against, sender="finishing.Reading")
        post_save.connect(keep_state_of_a_piece, sender="projects.Piece")
        post_save.connect(keep_state_after_an_entry, sender="projects.Step")
        post_save.connect(keep_states_of_a_part, sender="projects.Part")
        post_save.connect(keep_states_under_a_coating, sender="finishing.Coating")
        from finishing.air.actions.weather import readings_imported
        from finishing.coatings.actions.systems import system_saved

        readings_imported.connect(hold_plans_against_readings)
        system_saved.connect(keep_states_of_a_system)


def leave_the_log_to_migrations(using: str, plan: Any, **kwargs: object) -> None:
    if plan:
        unguard(connections[using])


def keep_the_log_guarded(using: str, **kwargs: object) -> None:
    """SQLite forgets a table's triggers when a migration rebuilds it, so they go up again after each."""
    guard(connections[using])


def hold_plans_against(instance: Any, created: bool, raw: bool = False, **kwargs: object) -> None:
    """A new forecast or reading, whoever brought it: finishing, which keeps it, knows of no plans."""
    from projects.record.actions.changes import note_change

    if created and not raw:
        note_change(instance.workshop_id)


def hold_plans_against_readings(workshop_id: UUID, **kwargs: object) -> None:
    """Of a logger's file, which are made many at once: one change for all of them."""
    from projects.record.actions.changes import note_change

    note_change(workshop_id)


# What a log means is kept beside the piece, whoever saves the entry, the piece or what the state rests on. Rows that
# are made many at once send no signal: those actions keep the states themselves.


def keep_states_anew(using: str, **kwargs: object) -> None:
    """The workshops that were there before a version that keeps states, or keeps them otherwise."""
    from projects.record.actions.states import keep_states_of
    from projects.record.models import KeptState, Part

    if using == "default" and KeptState._meta.db_table in connections[using].introspection.table_names():
        keep_states_of(Part.objects.filter(pieces__isnull=False).distinct())


def keep_state_of_a_piece(instance: Any, created: bool, raw: bool = False, **kwargs: object) -> None:
    from projects.record.actions.states import keep_states

    if created and not raw:
        keep_states(type(instance).objects.filter(pk=instance.pk))


def keep_state_after_an_entry(instance: Any, raw: bool = False, **kwargs: object) -> None:
    from projects.record.actions.states import keep_states
    from projects.record.models import Piece

    if not raw:
        keep_states(Piece.objects.filter(pk=instance.piece_id))


def keep_states_of_a_part(instance: Any, created: bool, raw: bool = False, **kwargs: object) -> None:
    from projects.record.actions.states import keep_states_of

    if not (created or raw):
        keep_states_of(type(instance).objects.filter(pk=instance.pk))


def keep_states_under_a_coating(instance: Any, created: bool, raw: bool = False, **kwargs: object) -> None:
    from projects.record.actions.states import keep_states_of
    from projects.record.models import Part

    if not (created or raw):
        keep_states_of(Part.objects.filter(system__layers__coating=instance).distinct())


def keep_states_of_a_system(system: Any, **kwargs: object) -> None:
    from projects.record.actions.states import keep_states_of
    from projects.record.models import Part

    keep_states_of(Part.objects.filter(system=system))
