"""The database refuses to change or delete a log entry, whichever of the two it is and whoever asks."""

import re
import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import DatabaseError, connection, models, transaction
from django.utils import timezone

from finishing.workshops.actions.audit import forget_old_notes
from finishing.workshops.models import AuditEntry
from finishing.workshops.models.audit import KEPT_FOR
from projects.record.models import Check, Design, Machine, PaintReceipt, Part, Piece, Project, Step, Trial
from tests import cost_factories
from tests.factories import UserFactory

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


def refused(words, attempt):
    with pytest.raises(DatabaseError, match=words), transaction.atomic():
        attempt()


def test_only_what_was_done_in_a_trial_may_be_deleted_and_nothing_of_it_changed(entry):
    tried = Project.objects.create(workshop=entry.workshop, design=entry.piece.part.design, name="Tried", trial=True)
    piece = Piece.objects.create(
        workshop=entry.workshop, project=tried, part=entry.piece.part, mark="T1", place=entry.piece.place
    )
    about = {"workshop": entry.workshop, "happened_at": entry.happened_at, "by": entry.by, "kind": Step.Kind.BLASTED}
    Step.objects.create(piece=piece, **about)
    refused("append-only", lambda: Step.objects.filter(piece=piece).update(note="never mind"))
    refused("append-only", delete_by_sql)  # among them is one of a real project
    Step.objects.filter(piece=piece).delete()
    assert [*Step.objects.all()] == [entry]


def test_nothing_becomes_a_trial_later(entry):
    real = entry.piece.project
    tried = Project.objects.create(workshop=entry.workshop, design=real.design, name="Tried", trial=True)
    refused("from its beginning", lambda: Project.objects.filter(pk=real.pk).update(trial=True))
    refused("from its beginning", lambda: Piece.objects.update(project=tried))
    Project.objects.filter(pk=tried.pk).update(trial=False)
    refused("from its beginning", lambda: Project.objects.filter(pk=tried.pk).update(trial=True))
    Piece.objects.update(project=tried)


def test_fits_trials_and_receipts_of_paint_go_with_a_trial_alone(trial):
    receipt = cost_factories.PaintReceiptFactory(project=trial.machine.project)
    project = trial.machine.project
    tried = Project.objects.create(workshop=trial.workshop, design=project.design, name="Tried", trial=True)
    machine = Machine.objects.create(workshop=trial.workshop, project=tried, number="2")
    of_trial = Trial.objects.create(
        workshop=trial.workshop, check_done=trial.check_done, machine=machine, passed=True,
        tried_at=trial.tried_at, by=trial.by,
    )  # fmt: skip
    paint = cost_factories.PaintReceiptFactory(project=tried, coating=receipt.coating, by=trial.by)
    of_trial.delete()
    paint.delete()
    refused("append-only", trial.delete)
    refused("append-only", receipt.delete)


LOGS = [model for model in apps.get_models() if getattr(model, "append_only", False)]
SOMETHING = {
    models.DateField: timezone.localdate,
    models.DateTimeField: timezone.now,
    models.UUIDField: uuid.uuid4,
    models.BooleanField: lambda: False,
    models.DecimalField: lambda: 1,
    models.IntegerField: lambda: 1,
    models.FloatField: lambda: 1.0,
}


def anything(model):
    """A row of this kind whose keys lead nowhere: the database asks about them only at the end of the transaction."""
    row = model()
    for field in model._meta.concrete_fields:
        told = field.target_field if field.is_relation else field
        kind = next((kind for kind in type(told).__mro__ if kind in SOMETHING), None)
        if getattr(row, field.attname) is None and not field.null and kind:
            setattr(row, field.attname, SOMETHING[kind]())
    return row


@pytest.mark.parametrize("model", LOGS, ids=lambda model: model.__name__)
def test_no_row_of_any_log_is_changed_deleted_or_replaced(model):
    table = model._meta.db_table
    attempts = [f"UPDATE {table} SET workshop_id = workshop_id", f"DELETE FROM {table}"]
    if connection.vendor == "sqlite":
        attempts.append(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}")
    with transaction.atomic(), connection.cursor() as cursor:
        model._base_manager.bulk_create([anything(model)])
        for attempt in attempts:
            refused("append-only", lambda: cursor.execute(attempt))  # noqa: B023
        assert model._base_manager.count() == 1
        transaction.set_rollback(True)


def test_what_is_noted_of_sign_ins_and_rights_goes_after_its_time_alone_and_outlives_an_account():
    now = timezone.now()
    person = UserFactory(username="gone")
    for days in (1, KEPT_FOR.days - 1, KEPT_FOR.days + 1):
        AuditEntry.objects.create(
            what=AuditEntry.What.SIGNED_IN, at=now - timedelta(days=days), user=person, name="gone"
        )
    refused("append-only", lambda: AuditEntry.objects.update(name="somebody else"))
    refused("append-only", lambda: AuditEntry.objects.update(user=None, name="somebody else"))
    refused("append-only", AuditEntry.objects.all().delete)
    forget_old_notes(now)
    person.delete()
    assert [*AuditEntry.objects.values_list("name", "user")] == [("gone", None)] * 2


def test_whatever_is_said_never_to_be_changed_is_a_log():
    """By its words, or because one row of it takes back another."""
    of_workshops = [model for model in apps.get_models() if hasattr(model, "append_only")]
    said = {model for model in of_workshops if re.search(r"[Nn]ever changed|[Nn]one is changed", model.__doc__ or "")}
    voided = {model for model in of_workshops if any(field.name == "voids" for field in model._meta.fields)}
    assert said
    assert voided
    assert said | voided <= set(LOGS)
