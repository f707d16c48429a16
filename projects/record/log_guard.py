"""Triggers by which SQLite and PostgreSQL refuse to change or delete a log entry, in each table that is a log."""

from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

SQLITE = [
    """CREATE TRIGGER IF NOT EXISTS {name}_refuses_{verb} BEFORE {verb} ON projects_{table}
       BEGIN SELECT RAISE(ABORT, 'the log is append-only: void the entry by a later one'); END"""
]
POSTGRESQL = [
    """CREATE OR REPLACE FUNCTION log_refuses() RETURNS trigger LANGUAGE plpgsql AS
       $$ BEGIN RAISE EXCEPTION 'the log is append-only: void the entry by a later one'; END $$""",
    """CREATE OR REPLACE TRIGGER {name}_refuses_{verb} BEFORE {verb} ON projects_{table}
       FOR EACH ROW EXECUTE FUNCTION log_refuses()""",
]
# SQLite replaces a row without deleting it, as far as triggers can see: whoever inserts one that is there is refused
SQLITE_REPLACING = """CREATE TRIGGER IF NOT EXISTS {name}_refuses_replacing BEFORE INSERT ON projects_{table}
    WHEN EXISTS (SELECT 1 FROM projects_{table} WHERE {same})
    BEGIN SELECT RAISE(ABORT, 'the log is append-only: void the entry by a later one'); END"""
VERBS = ("UPDATE", "DELETE")
# the tables that are logs, and what their triggers are called after
LOGS = {
    "step": "log",
    "fitting": "fitting",
    "trial": "trial",
    "receipt": "receipt",
    "payment": "payment",
    "paintreceipt": "paint_receipt",
}


def guard(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers up; twice is once, and a table that is yet to come is passed over."""
    with connection.cursor() as cursor:
        for table, name in _logs(connection):
            for statement in POSTGRESQL if connection.vendor == "postgresql" else SQLITE:
                for verb in VERBS:
                    cursor.execute(statement.format(name=name, table=table, verb=verb))
            if connection.vendor == "sqlite":
                cursor.execute(SQLITE_REPLACING.format(name=name, table=table, same=_same(connection, cursor, table)))


def unguard(connection: BaseDatabaseWrapper) -> None:
    on = " ON projects_{table}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        for table, name in _logs(connection):
            for verb in (*VERBS, "REPLACING"):
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}_refuses_{verb}{on}".format(table=table))


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
