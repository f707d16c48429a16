"""The database refuses to change or delete a log entry, whichever of the two it is and whoever asks."""

from datetime import UTC, datetime

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from projects.record.models import Check, Design, Machine, PaintReceipt, Part, Piece, Project, Step, Trial
from tests import cost_factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def entry(workshop, owner, yard):
    design = Design.objects.create(workshop=workshop, name="Treadle saw")
    part = Part.objects.create(workshop=workshop, design=design, name="frame")
    project = Project.objects.create(workshop=workshop, design=design, name="Saw in the barn")
    piece = Piece.objects.create(workshop=workshop, project=project, part=part, mark="F1", place=yard)
    when = datetime(2026, 5, 12, 9, tzinfo=UTC)
    return Step.objects.create(workshop=workshop, piece=piece, kind=Step.Kind.BLASTED, happened_at=when, by=owner)


def change_by_sql():
    with connection.cursor() as cursor:
        cursor.execute("UPDATE projects_step SET note = 'never mind'")


def delete_by_sql():
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM projects_step")


@pytest.mark.parametrize(
    "attempt",
    [
        change_by_sql,
        delete_by_sql,
        lambda: Step.objects.update(note="never mind"),
        lambda: Step.objects.all().delete(),
        lambda: Step.objects.get().save(),
        lambda: Step.objects.bulk_update([Step.objects.get()], ["note"]),
    ],
)
def test_an_entry_is_neither_changed_nor_deleted(entry, attempt):
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        attempt()
    assert Step.objects.get().note == ""


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="only SQLite replaces rows")
@pytest.mark.parametrize("recursive", ["ON", "OFF"])
def test_an_entry_is_not_replaced_by_another_of_its_id_or_voiding_the_same(entry, recursive):
    """REPLACE deletes what stands in its way; another program's connection has no recursive triggers."""
    about = {"workshop": entry.workshop, "piece": entry.piece, "happened_at": entry.happened_at, "by": entry.by}
    void = Step.objects.create(kind=Step.Kind.VOIDED, voids=entry, **about)
    columns = ", ".join(f'"{field.column}"' for field in Step._meta.concrete_fields)
    other = columns.replace('"id"', "'00000000000000000000000000000001'")
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA recursive_triggers={recursive}")
        for values in (columns, other):
            row = f"SELECT {values} FROM projects_step WHERE id = %s"
            with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
                cursor.execute(f"INSERT OR REPLACE INTO projects_step ({columns}) {row}", [void.pk.hex])
    assert Step.objects.get(pk=void.pk) == void


def test_a_later_entry_voids_an_earlier_one(entry):
    later = Step.objects.create(
        workshop=entry.workshop,
        piece=entry.piece,
        kind=Step.Kind.VOIDED,
        happened_at=entry.happened_at,
        by=entry.by,
        voids=entry,
    )
    assert entry.voided_by == later


@pytest.mark.django_db(transaction=True)
def test_the_guard_stands_after_the_tables_were_emptied_and_after_a_migration(entry):
    call_command("migrate", verbosity=0)
    with pytest.raises(DatabaseError, match="append-only"):
        delete_by_sql()


def test_a_guard_put_up_twice_is_one_guard(entry):
    from projects.record.log_guard import guard, unguard

    guard(connection)
    unguard(connection)
    change_by_sql()
    assert Step.objects.get().note == "never mind"
    guard(connection)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        change_by_sql()


@pytest.fixture
def trial(entry):
    machine = Machine.objects.create(workshop=entry.workshop, project=entry.piece.project, number="1")
    check = Check.objects.create(workshop=entry.workshop, design=entry.piece.part.design, what="runs true")
    return Trial.objects.create(
        workshop=entry.workshop,
        check_done=check,
        machine=machine,
        passed=False,
        tried_at=entry.happened_at,
        by=entry.by,
    )


def test_a_failed_trial_stays_failed(trial):
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Trial.objects.update(passed=True)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        trial.delete()
    assert not Trial.objects.get().passed


def test_a_receipt_of_paint_stays_as_it_is(entry):
    receipt = cost_factories.PaintReceiptFactory(project=entry.piece.project)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        PaintReceipt.objects.update(price=1)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        receipt.delete()
    assert PaintReceipt.objects.get().price == 40
