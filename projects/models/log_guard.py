"""Triggers by which SQLite and PostgreSQL refuse to change or delete a log entry."""

from typing import Any

SQLITE = [
    """CREATE TRIGGER IF NOT EXISTS log_refuses_{verb} BEFORE {verb} ON projects_step
       BEGIN SELECT RAISE(ABORT, 'the log is append-only: void the entry by a later one'); END"""
]
POSTGRESQL = [
    """CREATE OR REPLACE FUNCTION log_refuses() RETURNS trigger LANGUAGE plpgsql AS
       $$ BEGIN RAISE EXCEPTION 'the log is append-only: void the entry by a later one'; END $$""",
    """CREATE OR REPLACE TRIGGER log_refuses_{verb} BEFORE {verb} ON projects_step
       FOR EACH ROW EXECUTE FUNCTION log_refuses()""",
]
VERBS = ("UPDATE", "DELETE")


def guard(connection: Any) -> None:
    """Put the triggers up; putting them up twice is putting them up once."""
    statements = POSTGRESQL if connection.vendor == "postgresql" else SQLITE
    _run(connection, [statement.format(verb=verb) for statement in statements for verb in VERBS])


def unguard(connection: Any) -> None:
    on = " ON projects_step" if connection.vendor == "postgresql" else ""
    _run(connection, [f"DROP TRIGGER IF EXISTS log_refuses_{verb}{on}" for verb in VERBS])


def _run(connection: Any, statements: list[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
