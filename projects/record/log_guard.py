"""Triggers by which SQLite and PostgreSQL refuse to change or delete a row of a model that is `append_only`.

What was logged in a project that was a trial from its beginning may go at once; no project becomes one later.
"""

from typing import Any

from django.apps import apps
from django.db import models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from finishing.site.calendar import GRACE

REFUSED = "the log is append-only: void the entry by a later one"
SQLITE = """CREATE TRIGGER {table}_refuses_{verb} BEFORE {verb} ON {table} WHEN NOT ({let_go})
    BEGIN SELECT RAISE(ABORT, '{refused}'); END"""
POSTGRESQL = """CREATE FUNCTION {table}_refuses_{verb}() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN IF NOT ({let_go}) THEN RAISE EXCEPTION '{refused}'; END IF; RETURN {stays}; END $$;
    CREATE TRIGGER {table}_refuses_{verb} BEFORE {verb} ON {table}
    FOR EACH ROW EXECUTE FUNCTION {table}_refuses_{verb}()"""
# SQLite replaces a row without deleting it, as far as triggers can see: whoever inserts one that is there is refused
SQLITE_REPLACING = """CREATE TRIGGER {table}_refuses_replacing BEFORE INSERT ON {table}
    WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})
    BEGIN SELECT RAISE(ABORT, '{refused}'); END"""
NEVER = "1 = 0"
# A row goes with its workshop, or with its project, once that was deleted for as long as it might have been put back
OVER = {
    "sqlite": f"deleted_at <= datetime('now', '-{GRACE.days} days')",
    "postgresql": f"deleted_at <= now() - interval '{GRACE.days} days'",
}
# or, where such rows are kept for so long alone, by itself
OLD_ENOUGH = {
    "sqlite": "OLD.at <= datetime('now', '-{days} days')",
    "postgresql": "OLD.at <= now() - interval '{days} days'",
}
OF_WORKSHOP = "EXISTS (SELECT 1 FROM finishing_workshop WHERE id = OLD.workshop_id AND {over})"
OF_PROJECT = "EXISTS (SELECT 1 FROM projects_project WHERE id = ({project}) AND {over})"
# or with the design that was made for a project which is gone for good
OF_DESIGN = (
    "EXISTS (SELECT 1 FROM projects_design WHERE hidden AND id = (SELECT design_id FROM projects_part WHERE id ="
    " OLD.part_id) AND NOT EXISTS (SELECT 1 FROM projects_project WHERE design_id = projects_design.id))"
)
OF_TRIAL = "EXISTS (SELECT 1 FROM projects_project WHERE id = ({project}) AND trial)"

# By which update a row would come to be of a trial: of a project, and of what belongs to one
INTO_TRIAL = (
    "NEW.project_id <> OLD.project_id AND EXISTS (SELECT 1 FROM projects_project WHERE id = NEW.project_id AND trial)"
)
BECOMES_TRIAL = {
    "project": ("trial", "NEW.trial AND NOT OLD.trial"),
    "piece": ("project_id", INTO_TRIAL),
    "machine": ("project_id", INTO_TRIAL),
}
NO_TRIAL = "a project is a trial from its beginning, or never"
SQLITE_TRIALS = """CREATE TRIGGER {table}_becomes_no_trial BEFORE UPDATE OF {column} ON projects_{table} WHEN {becomes}
    BEGIN SELECT RAISE(ABORT, '{refused}'); END"""
POSTGRESQL_TRIALS = """CREATE FUNCTION {table}_becomes_no_trial() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN IF {becomes} THEN RAISE EXCEPTION '{refused}'; END IF; RETURN NEW; END $$;
    CREATE TRIGGER {table}_becomes_no_trial BEFORE UPDATE OF {column} ON projects_{table}
    FOR EACH ROW EXECUTE FUNCTION {table}_becomes_no_trial()"""


# The names of what stands, also of what an earlier version called otherwise
SQLITE_STANDING = """SELECT name FROM sqlite_master WHERE type = 'trigger'
    AND (name LIKE '%!_refuses!_%' ESCAPE '!' OR name LIKE '%!_becomes!_no!_trial' ESCAPE '!')"""
POSTGRESQL_STANDING = """SELECT proname FROM pg_proc WHERE pronamespace = current_schema()::regnamespace
    AND (proname LIKE '%!_refuses!_%' ESCAPE '!' OR proname LIKE '%!_becomes!_no!_trial' ESCAPE '!')"""


def guard(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers up, in place of those of an earlier version; a table that is yet to come is passed over."""
    statement = POSTGRESQL if connection.vendor == "postgresql" else SQLITE
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        unguard(connection)
        for model in _logs(connection):
            told = {"table": model._meta.db_table, "refused": REFUSED}
            emptied, let_go = _emptied(connection, cursor, model), _let_go(connection, cursor, model)
            cursor.execute(statement.format(verb="UPDATE", let_go=emptied, stays="NEW", **told))
            cursor.execute(statement.format(verb="DELETE", let_go=let_go, stays="OLD", **told))
            if connection.vendor == "sqlite":
                same = _same(connection, cursor, model._meta.db_table)
                cursor.execute(SQLITE_REPLACING.format(same=same, **told))
        if _has_column(connection, cursor, "projects_project", "trial"):
            trials = POSTGRESQL_TRIALS if connection.vendor == "postgresql" else SQLITE_TRIALS
            for table, (column, becomes) in BECOMES_TRIAL.items():
                cursor.execute(trials.format(table=table, column=column, becomes=becomes, refused=NO_TRIAL))


def unguard(connection: BaseDatabaseWrapper) -> None:
    """Also before a migration: SQLite builds no table anew that a trigger of another one asks."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(POSTGRESQL_STANDING)
            for (name,) in cursor.fetchall():
                cursor.execute(f"DROP FUNCTION {name}() CASCADE")  # and the trigger that calls it
        else:
            cursor.execute(SQLITE_STANDING)
            for (name,) in cursor.fetchall():
                cursor.execute(f"DROP TRIGGER {name}")


def _emptied(connection: BaseDatabaseWrapper, cursor: Any, model: type[models.Model]) -> str:
    """When a row may be changed: as a key to what is gone, such as an account, becomes empty, and nothing else does."""
    same = "IS NOT DISTINCT FROM" if connection.vendor == "postgresql" else "IS"
    columns = [column.name for column in connection.introspection.get_table_description(cursor, model._meta.db_table)]
    ways = [NEVER]
    for key in model._meta.concrete_fields:
        if (
            isinstance(key, models.ForeignKey)
            and key.remote_field.on_delete is models.SET_NULL
            and key.column in columns
        ):
            others = [f'NEW."{column}" {same} OLD."{column}"' for column in columns if column != key.column]
            ways.append(" AND ".join([f"OLD.{key.column} IS NOT NULL", f"NEW.{key.column} IS NULL", *others]))
    return " OR ".join(ways)


def _let_go(connection: BaseDatabaseWrapper, cursor: Any, model: type[models.Model]) -> str:
    """When a row may be deleted: never in a database that does not yet know what was deleted."""
    if not all(_has_column(connection, cursor, of, "deleted_at") for of in ("finishing_workshop", "projects_project")):
        return NEVER
    ways, project = [OF_WORKSHOP], _project_of(model)
    if kept_for := getattr(model, "kept_for", None):
        ways.append(OLD_ENOUGH[connection.vendor].format(days=kept_for.days))
    if model._meta.label == "projects.Wording":
        ways.append(OF_DESIGN)
    if project:
        ways.append(OF_PROJECT)
        if _has_column(connection, cursor, "projects_project", "trial"):
            ways.append(OF_TRIAL)
    return " OR ".join(way.format(over=OVER[connection.vendor], project=project) for way in ways)


def _project_of(model: type[models.Model]) -> str:
    """The project that a row goes with, asked by way of what stands between; "" where it goes with its workshop."""
    asked, above = "", model
    while above._meta.label != "projects.Project":
        goes_with = getattr(above, "goes_with", "")
        if not goes_with:
            return ""
        field = above._meta.get_field(goes_with)
        assert isinstance(field, models.ForeignKey)
        asked = (
            f"SELECT {field.column} FROM {above._meta.db_table} WHERE id = ({asked})"
            if asked
            else f"OLD.{field.column}"
        )
        above = field.related_model
    return asked


def _has_column(connection: BaseDatabaseWrapper, cursor: Any, table: str, name: str) -> bool:
    return name in {column.name for column in connection.introspection.get_table_description(cursor, table)}


def _logs(connection: BaseDatabaseWrapper) -> list[type[models.Model]]:
    there = connection.introspection.table_names()
    return [
        model for model in apps.get_models() if getattr(model, "append_only", False) and model._meta.db_table in there
    ]


def _same(connection: BaseDatabaseWrapper, cursor: Any, table: str) -> str:
    """When a new row stands for one that is there: equal in all columns of something that is unique."""
    constraints = connection.introspection.get_constraints(cursor, table).values()
    unique = {tuple(rule["columns"]) for rule in constraints if rule["unique"] or rule["primary_key"]}
    return " OR ".join(
        "(" + " AND ".join(f'"{column}" = NEW."{column}"' for column in columns) + ")" for columns in sorted(unique)
    )
