"""Triggers by which SQLite and PostgreSQL refuse to change or delete a log entry, in each table that is a log."""

from typing import Any

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


def guard(connection: Any) -> None:
    """Put the triggers up; twice is once, and a table that is yet to come is passed over."""
    _run(connection, POSTGRESQL if connection.vendor == "postgresql" else SQLITE)


def unguard(connection: Any) -> None:
    on = " ON projects_{table}" if connection.vendor == "postgresql" else ""
    _run(connection, ["DROP TRIGGER IF EXISTS {name}_refuses_{verb}" + on])


def _run(connection: Any, statements: list[str]) -> None:
    there = connection.introspection.table_names()
    logs = {table: name for table, name in LOGS.items() if f"projects_{table}" in there}
    with connection.cursor() as cursor:
        for statement in statements:
            for table, name in logs.items():
                for verb in VERBS:
                    cursor.execute(statement.format(name=name, table=table, verb=verb))
