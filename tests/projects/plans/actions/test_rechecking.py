"""What is noted for the worker, and what it does with it: one recheck for all that changed, after what people ask."""

import uuid
from datetime import UTC, datetime

import pytest
from django.db import OperationalError, transaction
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from finishing.air.actions.weather import import_logger_file
from projects.management.commands import plan_worker
from projects.plans.actions import rechecking
from projects.plans.actions.plans import ask_plan
from projects.record.actions.changes import note_change
from projects.record.actions.log import log_step
from projects.record.models import Change, Piece, Plan, Step
from tests.factories import PlanFactory, PlanRunFactory, WorkshopFactory, steady_forecast

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 11, 6, tzinfo=UTC)  # a Monday, seven o'clock by the workshop's clock


def keep_a_plan(workshop):
    return PlanFactory(run=PlanRunFactory(workshop=workshop), state=Plan.State.KEPT)


@pytest.fixture
def plan(workshop):
    return keep_a_plan(workshop)


@pytest.fixture
def entry(piece, owner, plan):
    """A note in the log of a piece, while a plan is kept."""

    rack = Piece.objects.filter(pk=piece.pk)

    def log(key=None):
        facts = {"kind": Step.Kind.NOTED, "happened_at": NOW, "pieces": rack, "of_each": {}, "note": "seen"}
        return log_step(by=owner, key=key or uuid.uuid4(), **facts)

    return log


@pytest.fixture
def rechecked(monkeypatch):
    """The plans that were held against the log, one after the other; all of them still hold."""
    plans = []
    monkeypatch.setattr(rechecking, "recheck_plan", lambda plan, now: plans.append(plan) or False)
    return plans


def test_twenty_entries_make_one_recheck(entry, plan, rechecked):
    for _ in range(20):
        entry()
    assert rechecking.recheck_next(NOW)
    assert rechecked == [plan]
    assert not rechecking.recheck_next(NOW)
    assert rechecked == [plan]


def test_a_form_sent_again_changes_nothing(entry):
    """Each time that a phone tried anew, the plans were held against a log in which nothing was new."""
    key = uuid.uuid4()
    for _ in range(3):
        entry(key)
    assert (Step.objects.count(), Change.objects.count()) == (1, 1)


def test_without_a_kept_plan_nothing_is_noted(piece, owner, plan, entry):
    Plan.objects.update(state=Plan.State.REPLACED)
    entry()
    assert not Change.objects.exists()


def test_workshops_come_in_turn_the_one_that_waits_longest_first(plan, rechecked):
    other = keep_a_plan(WorkshopFactory())
    for workshop_id in (other.workshop_id, plan.workshop_id, other.workshop_id):
        note_change(workshop_id)
    assert rechecking.recheck_next(NOW)
    assert rechecked == [other]
    assert rechecking.recheck_next(NOW)
    assert rechecked == [other, plan]
    assert not rechecking.recheck_next(NOW)


def test_a_change_noted_during_a_recheck_is_not_lost(monkeypatch, entry, plan, rechecked):
    def and_meanwhile(workshop, now):
        if len(rechecked) == 1:
            entry()

    monkeypatch.setattr(rechecking, "count_kept_plans", and_meanwhile)
    entry()
    assert rechecking.recheck_next(NOW)
    assert Change.objects.count() == 1
    assert rechecking.recheck_next(NOW)
    assert rechecked == [plan, plan]
    assert not Change.objects.exists()


def test_an_entry_and_its_change_are_kept_or_rolled_back_together(monkeypatch, entry):
    entry()
    assert (Step.objects.count(), Change.objects.count()) == (1, 1)

    def fails_afterwards():
        with transaction.atomic():
            entry()
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fails_afterwards()
    assert (Step.objects.count(), Change.objects.count()) == (1, 1)

    def fails(workshop_id):
        raise OperationalError("the disk is full")

    monkeypatch.setattr("projects.record.actions.log.note_change", fails)
    with pytest.raises(OperationalError):
        entry()
    assert Step.objects.count() == 1


def test_a_new_forecast_notes_a_change_and_one_checked_again_does_not(workshop, plan):
    forecast = steady_forecast(workshop, NOW)
    assert Change.objects.get().workshop == workshop
    forecast.checked_at = timezone.now()
    forecast.save()
    assert Change.objects.count() == 1


def test_a_loggers_file_notes_one_change_and_the_same_file_again_none(workshop, shop, owner, plan):
    heading = "Date/Time,Temperature (°C),Humidity (%RH)"
    lines = f"{heading}\n2026-05-11 05:00:00,16.0,60\n2026-05-11 05:10:00,16.1,60\n".encode()
    for added in (2, 0):
        taken = import_logger_file(workshop, shop, lines, zone="UTC", by=owner, now=NOW)
        assert (taken.added, Change.objects.count()) == (added, 1)


def test_a_busy_database_leaves_the_change_for_the_next_turn(monkeypatch, entry, rechecked):
    def busy(workshop, now):
        raise OperationalError("database is locked")

    entry()
    with monkeypatch.context() as patch:
        patch.setattr(rechecking, "count_kept_plans", busy)
        assert not rechecking.recheck_next(NOW)
    assert Change.objects.count() == 1
    assert rechecking.recheck_next(NOW)
    assert not Change.objects.exists()


def test_a_fault_is_logged_once_and_keeps_no_other_workshop_waiting(monkeypatch, caplog, plan):
    other = keep_a_plan(WorkshopFactory())
    plans = []

    def faulty(kept, now):
        plans.append(kept)
        if kept == plan:
            raise ZeroDivisionError

    monkeypatch.setattr(rechecking, "recheck_plan", faulty)
    for workshop_id in (plan.workshop_id, other.workshop_id):
        note_change(workshop_id)
    while rechecking.recheck_next(NOW):
        pass
    assert plans == [plan, other]
    assert "were not rechecked" in caplog.text


def test_what_a_person_asked_for_goes_before_what_is_offered_unasked(
    monkeypatch, workshop, owner, project, plan, django_capture_on_commit_callbacks
):
    monkeypatch.setattr(rechecking, "recheck_plan", lambda plan, now: True)
    with django_capture_on_commit_callbacks(execute=True):
        (broken,) = rechecking.recheck_kept_plans(workshop, NOW)
        asked = ask_plan(workshop, [project], by=owner, now=NOW)
    assert broken == plan
    first, second = (task.args_kwargs["args"] for task in DBTaskResult.objects.ready())
    assert first == [str(asked.pk)]
    assert second != first


def test_the_worker_looks_into_the_queue_after_each_workshop(monkeypatch):
    turns = []

    class Queue:
        running = True

        def __init__(self, **options):
            assert options["batch"]  # it returns when nothing waits

        def configure_signals(self):
            pass

        def run(self):
            turns.append("queue")

    def recheck(now):
        turns.append("workshop")
        Queue.running = len(turns) < 5
        return True

    monkeypatch.setattr(plan_worker, "Worker", Queue)
    monkeypatch.setattr(plan_worker, "recheck_next", recheck)
    monkeypatch.setattr(plan_worker, "close_old_connections", lambda: None)
    plan_worker.Command().handle(kinder=False)
    assert turns == ["queue", "workshop"] * 3
