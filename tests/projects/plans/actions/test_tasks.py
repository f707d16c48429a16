"""A run is made by one worker; one whose worker is gone is made once more, by one of those who find it."""

from datetime import timedelta

import pytest
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from projects.plans.actions import tasks
from projects.plans.actions.tasks import BROKEN_OFF, LEFT_AFTER, TRIES, make, take_up_left
from projects.record.models import PlanRun
from tests import factories

State = PlanRun.State
pytestmark = pytest.mark.django_db


@pytest.fixture
def made(monkeypatch):
    """Which runs were made, instead of making them."""
    done = []
    monkeypatch.setattr(tasks, "make_plan", lambda run, now: done.append(run.pk) or run)
    monkeypatch.setattr(tasks, "count_offers", lambda run, now: None)
    return done


def run_of(**values):
    return factories.PlanRunFactory(**values)


def test_a_task_that_two_workers_have_is_made_by_one(made):
    run = run_of(state=State.WAITING)
    make.func(str(run.pk))
    make.func(str(run.pk))
    assert made == [run.pk]


@pytest.mark.parametrize("alone", [True, False])
def test_a_run_whose_worker_was_killed_is_made_once_more_and_not_a_third_time(made, alone):
    now = timezone.now()
    run = run_of(state=State.WAITING)
    for tried in range(1, TRIES + 1):
        PlanRun.objects.filter(pk=run.pk, state=State.WAITING).update(
            state=State.RUNNING, tries=tried, alive_at=now - LEFT_AFTER - timedelta(seconds=1)
        )
        assert take_up_left(now, alone=alone) == 1
        assert take_up_left(now, alone=alone) == 0  # somebody else found it too
        assert DBTaskResult.objects.count() == min(tried, TRIES - 1)
    run.refresh_from_db()
    assert (run.state, run.message) == (State.STOPPED, BROKEN_OFF)


def test_one_that_is_worked_on_elsewhere_is_left_alone():
    now = timezone.now()
    run = run_of(state=State.RUNNING, alive_at=now - LEFT_AFTER + timedelta(seconds=1), tries=1)
    assert take_up_left(now) == 0
    run.refresh_from_db()
    assert run.state == State.RUNNING
    assert take_up_left(now, alone=True) == 1


@pytest.mark.parametrize("state", [State.WAITING, State.DONE, State.STOPPED, State.FAILED])
def test_what_waits_or_is_over_stays_so(state):
    run_of(state=state)
    assert take_up_left(timezone.now(), alone=True) == 0
