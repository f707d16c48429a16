"""The edition of what pages show: another one after every change in the database, whoever makes it and however.

Every statement that writes is seen as it is sent, so that a change in bulk, by the worker or by a command counts as
well as a form's. The new mark is written once the change is: who asks in between is told the change with the old mark,
and asks again.
"""

import re
import threading
import uuid
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from typing import Any

from django.db import OperationalError, ProgrammingError, connection, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from .models import Edition

RENEWED = threading.Event()  # whoever waits for a change of this process clears it
ONLY = 1  # the key of the only row
WRITES = re.compile(r"\s*(?:INSERT|UPDATE|DELETE|REPLACE)\b[^\"]*\"?(\w+)", re.IGNORECASE)
NOT_SHOWN = (
    *("django_session", "django_migrations", "django_content_type", "auth_", "django_tasks", "finishing_edition"),
    *("finishing_signin", "finishing_auditentry"),  # on pages that are made anew whenever they are asked for
)
NOT_SHOWN_BY_THEMSELVES = {"projects_change", "projects_planrun"}  # notes for the worker, and how far it has come
COLUMNS_NOT_SHOWN = {"projects_plan": {"checked_at", "forecast_id"}}  # written after every entry, and told by the plan


def current_edition() -> str:
    """The mark; "" where none has been written yet, and within a change that is not committed."""
    if _noted(connection):
        return ""
    return str(Edition.objects.filter(pk=ONLY).values_list("mark", flat=True).first() or "")


def renew_edition() -> None:
    """A database that is only being built shows no page yet."""
    mark = uuid.uuid4()
    with suppress(OperationalError, ProgrammingError):
        if not Edition.objects.filter(pk=ONLY).update(mark=mark):
            Edition.objects.bulk_create([Edition(pk=ONLY, mark=mark)], ignore_conflicts=True)
    RENEWED.set()


def watch(connection: BaseDatabaseWrapper, **kwargs: object) -> None:
    """Of a connection just made; it stays watched when it is opened again."""
    if note_writing not in connection.execute_wrappers:
        connection.execute_wrappers.append(note_writing)


def note_writing(
    execute: Callable[..., Any], sql: str, params: object, many: bool, context: dict[str, BaseDatabaseWrapper]
) -> Any:
    result = execute(sql, params, many, context)
    changed = context["connection"]
    if changes_a_page(sql) and not _noted(changed):  # a savepoint that is rolled back takes its note along
        transaction.on_commit(renew_edition, using=changed.alias, robust=True)
    return result


def _noted(connection: BaseDatabaseWrapper) -> bool:
    return any(hook[1] is renew_edition for hook in connection.run_on_commit)


@cache
def _table(beginning: str) -> str:
    written = WRITES.match(beginning)
    return written[1] if written else ""


def changes_a_page(sql: str) -> bool:
    table = _table(sql[:80])
    if not table or table.startswith(NOT_SHOWN) or table in NOT_SHOWN_BY_THEMSELVES:
        return False
    set_here = re.findall(r'"(\w+)" = ', sql.partition(" WHERE ")[0]) if table in COLUMNS_NOT_SHOWN else []
    return not set_here or not COLUMNS_NOT_SHOWN[table].issuperset(set_here)
