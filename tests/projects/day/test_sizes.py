"""What an everyday page asks of the database does not grow with the number of pieces at work."""

from collections import Counter
from datetime import UTC, datetime

import pytest
import time_machine
from django.db import connection
from django.test import override_settings
from django.test.utils import CaptureQueriesContext

from projects.record.models import Visit, VisitPiece, pieces_on
from tests.workshops_at_work import workshop_at_work

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)


@pytest.fixture
def sizes(db, tmp_path):
    with time_machine.travel(NOW, tick=False), override_settings(MEDIA_ROOT=tmp_path):
        yield [workshop_at_work(pieces, NOW) for pieces in (30, 90)]


def test_thirty_pieces_and_ninety_ask_alike(sizes):
    small, large = ({page: queries(made, address) for page, address in made.pages.items()} for made in sizes)
    assert small == large


def queries(made, address):
    client = made.client()
    client.get(address)
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
        return len(asked)


def test_the_list_of_visits_counts_as_each_visit_does(sizes):
    visits = list(Visit.objects.select_related("workshop"))
    for made in sizes:
        own = [visit for visit in visits if visit.workshop_id == made.workshop.pk]
        VisitPiece.objects.filter(visit__in=own).first().piece.steps.create(
            workshop=made.workshop, kind="blasted", happened_at=NOW, by=made.owner
        )  # on another day
        assert pieces_on(own) == Counter({visit.pk: len(visit.rows()) for visit in own})
