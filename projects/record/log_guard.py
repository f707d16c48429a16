"""Triggers by which SQLite and PostgreSQL refuse to change or delete a log entry, in each table that is a log.

What was logged in a project that was a trial from its beginning may go at once; no project becomes one later.
"""

from typing import Any

from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from finishing.site.calendar import GRACE

REFUSED = "the log is append-only: void the entry by a later one"
SQLITE = """CREATE TRIGGER {name}_refuses_{verb} BEFORE {verb} ON projects_{table} WHEN NOT ({let_go})
    BEGIN SELECT RAISE(ABORT, '{refused}'); END"""
POSTGRESQL = """CREATE OR REPLACE FUNCTION {name}_refuses_{verb}() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN IF NOT ({let_go}) THEN RAISE EXCEPTION '{refused}'; END IF; RETURN OLD; END $$;
    CREATE TRIGGER {name}_refuses_{verb} BEFORE {verb} ON projects_{table}
    FOR EACH ROW EXECUTE FUNCTION {name}_refuses_{verb}()"""
# SQLite replaces a row without deleting it, as far as triggers can see: whoever inserts one that is there is refused
SQLITE_REPLACING = """CREATE TRIGGER {name}_refuses_replacing BEFORE INSERT ON projects_{table}
    WHEN EXISTS (SELECT 1 FROM projects_{table} WHERE {same})
    BEGIN SELECT RAISE(ABORT, '{refused}'); END"""
# the tables that are logs, and what their triggers are called after
LOGS = {
    "step": "log",
    "fitting": "fitting",
    "removal": "removal",
    "trial": "trial",
    "receipt": "receipt",
    "payment": "payment",
    "paintreceipt": "paint_receipt",
    "filmreading": "film_reading",
    "loanchange": "loan_change",
    "wording": "wording",
}
NEVER = "1 = 0"
# A row goes with its workshop, or with its project, once that was deleted for as long as it might have been put back
OVER = {
    "sqlite": f"deleted_at <= datetime('now', '-{GRACE.days} days')",
    "postgresql": f"deleted_at <= now() - interval '{GRACE.days} days'",
}
OF_WORKSHOP = "EXISTS (SELECT 1 FROM finishing_workshop WHERE id = OLD.workshop_id AND {over})"
OF_PROJECT = "EXISTS (SELECT 1 FROM projects_project WHERE id = ({project}) AND {over})"
# or with the design that was made for a project which is gone for good
OF_DESIGN = (
    "EXISTS (SELECT 1 FROM projects_design WHERE hidden AND id = (SELECT design_id FROM projects_part WHERE id ="
    " OLD.part_id) AND NOT EXISTS (SELECT 1 FROM projects_project WHERE design_id = projects_design.id))"
)
OF_TRIAL = "EXISTS (SELECT 1 FROM projects_project WHERE id = ({project}) AND trial)"
PROJECT_OF = {
    "step": "SELECT project_id FROM projects_piece WHERE id = OLD.piece_id",
    "fitting": "SELECT project_id FROM projects_machine WHERE id = OLD.machine_id",
    "removal": "SELECT project_id FROM projects_machine WHERE id = OLD.machine_id",
    "trial": "SELECT project_id FROM projects_machine WHERE id = OLD.machine_id",
    "paintreceipt": "SELECT OLD.project_id",
    "filmreading": "SELECT project_id FROM projects_piece WHERE id = OLD.piece_id",
    "loanchange": "SELECT project_id FROM projects_loan WHERE id = OLD.loan_id",
}

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
POSTGRESQL_TRIALS = """CREATE OR REPLACE FUNCTION {table}_becomes_no_trial() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN IF {becomes} THEN RAISE EXCEPTION '{refused}'; END IF; RETURN NEW; END $$;
    CREATE TRIGGER {table}_becomes_no_trial BEFORE UPDATE OF {column} ON projects_{table}
    FOR EACH ROW EXECUTE FUNCTION {table}_becomes_no_trial()"""


def guard(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers up, in place of those of an earlier version; a table that is yet to come is passed over."""
    statement = POSTGRESQL if connection.vendor == "postgresql" else SQLITE
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        unguard(connection)
        for table, name in _logs(connection):
            told = {"name": name, "table": table, "refused": REFUSED}
            cursor.execute(statement.format(verb="UPDATE", let_go=NEVER, **told))
            cursor.execute(statement.format(verb="DELETE", let_go=_let_go(connection, cursor, table), **told))
            if connection.vendor == "sqlite":
                cursor.execute(SQLITE_REPLACING.format(same=_same(connection, cursor, table), **told))
        if _has_column(connection, cursor, "projects_project", "trial"):
            trials = POSTGRESQL_TRIALS if connection.vendor == "postgresql" else SQLITE_TRIALS
            for table, (column, becomes) in BECOMES_TRIAL.items():
                cursor.execute(trials.format(table=table, column=column, becomes=becomes, refused=NO_TRIAL))


def unguard(connection: BaseDatabaseWrapper) -> None:
    """Also before a migration: SQLite builds no table anew that a trigger of another one asks."""
    on = " ON projects_{table}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        for table, name in _logs(connection):
            for verb in ("UPDATE", "DELETE", "REPLACING"):
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}_refuses_{verb}{on}".format(table=table))
        there = connection.introspection.table_names(cursor)
        for table in BECOMES_TRIAL:
            if f"projects_{table}" in there:
                cursor.execute(f"DROP TRIGGER IF EXISTS {table}_becomes_no_trial{on}".format(table=table))


def _let_go(connection: BaseDatabaseWrapper, cursor: Any, table: str) -> str:
    """When a row may be deleted: never in a database that does not yet know what was deleted."""
    if not all(_has_column(connection, cursor, of, "deleted_at") for of in ("finishing_workshop", "projects_project")):
        return NEVER
    ways = [OF_WORKSHOP, *([OF_PROJECT] if table in PROJECT_OF else []), *([OF_DESIGN] if table == "wording" else [])]
    if table in PROJECT_OF and _has_column(connection, cursor, "projects_project", "trial"):
        ways.append(OF_TRIAL)
    return " OR ".join(way.format(over=OVER[connection.vendor], project=PROJECT_OF.get(table)) for way in ways)


def _has_column(connection: BaseDatabaseWrapper, cursor: Any, table: str, name: str) -> bool:
    return name in {column.name for column in connection.introspection.get_table_description(cursor, table)}


def _logs(connection: BaseDatabaseWrapper) -> list[tuple[str, str]]:
    there = connection.introspection.table_names()
    return [(table, name) for table, name in LOGS.items() if f"projects_{table}" in there]


def _same(connection: BaseDatabaseWrapper, cursor: Any, table: str) -> str:
    """When a new row stands for one that is there: equal in all columns of something that is unique."""
    constraints = connection.introspection.get_constraints(cursor, f"projects_{table}").values()
    unique = {tuple(rule["columns"]) for rule in constraints if rule["unique"] or rule["primary_key"]}
    return " OR ".join(
        "(" + " AND ".join(f'"{column}" = NEW."{column}"' for column in columns) + ")" for columns in sorted(unique)
    )
