"""What the demonstration has to show, and that no link in it leads nowhere."""

from collections import Counter

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from finishing.air.models import Forecast, Reading
from finishing.workshops.models import User
from projects.day.domain import paint_jobs
from projects.demo.actions import PASSWORD
from projects.record.models import Follower, Photo, Step
from projects.record.models.stages import Next, Stage
from tests.addresses import Walk

from .test_any_moment import ahead_of, stands_as_told

pytestmark = pytest.mark.django_db


def test_it_stands_as_it_is_told(demonstration):
    stands_as_told(*demonstration)


def test_it_has_pieces_at_every_stage_and_every_kind_of_entry_that_it_tells_of(demonstration):
    ahead = ahead_of(*demonstration)
    assert len(ahead) == 32 + 1  # one casting came good on the order
    stages = Counter(outlook.state.stage for outlook in ahead)
    assert set(stages) == set(Stage)
    waiting_for_letters = [o.piece.mark for o in ahead if o.state.next == Next.LETTER]
    assert sorted(waiting_for_letters) == ["1-FA", "1-FB", "FL"]
    assert any(job.ready for job in paint_jobs(ahead))
    assert {"came clean", "wrinkled", "touched up", "voided", "bloom", "preserved"} <= kinds()
    assert Step.objects.filter(verdict="not checked", kind="coated").count() >= 5
    assert Photo.objects.count() >= 5
    assert set(Reading.objects.values_list("source", flat=True)) == {"entry", "logger", "typed"}
    assert set(Forecast.objects.values_list("service", flat=True)) == {"invented"}


def kinds():
    return set(Step.objects.values_list("kind", flat=True))


def no_link_leads_nowhere(most=2):
    """For anybody, from the day sheet on."""
    for username in ("owner", "helper", "guest"):
        client = Client()
        assert client.login(username=username, password=PASSWORD)
        walk = Walk(client, most).from_page(reverse("day-sheet"))
        assert walk.wrong == [], username
        assert {"day-sheet", "project", "piece", "coating", "system", "weather", "calculator"} <= set(walk.opened)
    assert User.objects.count() == 3


def test_no_link_leads_nowhere_for_anybody(demonstration):
    no_link_leads_nowhere(most=1 if connection.vendor == "postgresql" else 2)


def test_which_month_answers_from_the_years_it_brings(demonstration):
    """At once, for the workshop's own paint and a place in the weather: summer is better than winter."""
    client = Client()
    assert client.login(username="owner", password=PASSWORD)
    outcome = client.get(reverse("which-month")).context["outcome"]
    assert len(outcome.of.rows) == 10
    assert not outcome.of.system.from_library
    assert outcome.of.place.outdoors
    assert outcome.whole.best
    assert not outcome.whole.best[0].whole_year


def test_a_customer_sees_their_project_and_no_more(demonstration):
    walk = Walk(Client()).from_page(reverse("follow", args=[Follower.objects.get().token]))
    assert walk.wrong == []
    assert walk.opened["follow"] == 1
    assert walk.opened["follow-thumbnail"]
    asked_to_sign_in, open_to_anybody = (
        {"day-sheet", "weather", "sign-in"},
        {"sources", "help", "calculators", "calculator", "trust"},
    )
    assert set(walk.opened) <= {"follow", "follow-photo", "follow-thumbnail", *asked_to_sign_in, *open_to_anybody}
