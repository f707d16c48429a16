"""A workshop's everyday pages alone, and with many others of its size beside it in the same database.

The others are copies, row by row, under ids of their own. BESIDE says how many workshops there are in all (50),
BESIDE_PIECES how many pieces each has at work (1,000).
"""

import os
from datetime import UTC, datetime

import pytest
import time_machine
from django.db import connection, transaction

from finishing.workshops.models import User, Workshop
from projects.keeping.actions.workshop_out import kinds, pairings
from projects.record.models import KeptState, Piece, Step
from tests.benchmarks.test_pages import asked
from tests.workshops_at_work import workshop_at_work

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)
WORKSHOPS = int(os.environ.get("BESIDE", "50"))
PIECES = int(os.environ.get("BESIDE_PIECES", "1000"))
MARK = 8  # hexadecimal digits of an id that say of which copy it is


@pytest.mark.django_db
@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="its rows are copied by SQLite's own functions")
def test_beside(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(NOW, tick=False):
        made = workshop_at_work(PIECES, NOW)
        client = made.client()
        alone = {page: asked(client, address) for page, address in made.pages.items()}
        for number in range(1, WORKSHOPS):
            copy_beside(made.workshop, number)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        assert Workshop.objects.count() == WORKSHOPS
        assert Piece.objects.filter(project__closed=False).count() == WORKSHOPS * PIECES
        print(f"\nfigure beside.workshops {WORKSHOPS}\nfigure beside.entries {Step.objects.count()}")
        ratios = {}
        for page, address in made.pages.items():
            took, queries, _ = asked(client, address)
            assert queries == alone[page][1]
            ratios[page] = took / alone[page][0]
            print(f"figure beside.{page}.alone_ms {alone[page][0]:.0f} ms\nfigure beside.{page}.ms {took:.0f} ms")
            print(f"figure beside.{page}.to_alone {ratios[page]:.2f} times")
        print(f"figure beside.worst {max(ratios.values()):.2f} times")


def copy_beside(workshop, number):
    """Every row of the workshop once more, under ids that begin with the number of the copy."""
    with transaction.atomic():
        for model in (*kinds(), KeptState):
            fields = model._meta.concrete_fields
            way = "id" if model is Workshop else "workshop_id"
            columns = {field.column: _copied(field, number) for field in fields}
            _insert(model._meta.db_table, columns, f"{way} = '{workshop.pk.hex}'")
            for pairing in pairings(model) if model is not KeptState else ():
                columns = {field.attname: field for field in pairing.through._meta.concrete_fields}
                ends = {name: _copied(columns[name], number) for name in (pairing.holder, pairing.held)}
                holders = f"SELECT id FROM {model._meta.db_table} WHERE workshop_id = '{workshop.pk.hex}'"
                _insert(pairing.through._meta.db_table, ends, f"{pairing.holder} IN ({holders})")


def _copied(field, number):
    target = field.target_field if field.is_relation else field
    if field.related_model is User:
        return field.column
    if target.get_internal_type() == "UUIDField":
        return f"'{number:0{MARK}x}' || substr({field.column}, {MARK + 1})"  # nothing where there is none
    return f"{field.column} || '{number}'" if field.name == "token" else f'"{field.column}"'


def _insert(table, columns, where):
    names = ", ".join(f'"{name}"' for name in columns)
    with connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO {table} ({names}) SELECT {', '.join(columns.values())} FROM {table} WHERE {where}")
