"""What an everyday page asks of the database does not grow with the number of pieces at work."""

import html
import re
from collections import Counter
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection, transaction
from django.test import override_settings
from django.test.utils import CaptureQueriesContext

from projects.day.views import day_sheet
from projects.record.actions.log import void_step
from projects.record.models import Photo, Visit, VisitPiece, pieces_on
from projects.work.views import projects
from tests import factories
from tests.workshops_at_work import workshop_at_work

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)


@pytest.fixture(scope="module")
def made_once(django_db_setup, django_db_blocker, tmp_path_factory):
    """Workshops of thirty pieces and of ninety; what a test changes in their rows is gone after it."""
    with django_db_blocker.unblock(), transaction.atomic():
        with time_machine.travel(NOW, tick=False), override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("media")):
            yield [workshop_at_work(pieces, NOW) for pieces in (30, 90)]
        transaction.set_rollback(True)


@pytest.fixture
def sizes(db, made_once):
    return made_once


def test_thirty_pieces_and_ninety_ask_alike(sizes):
    small, large = ({page: queries(made, address) for page, address in made.pages.items()} for made in sizes)
    assert small == large
    assert {page: asked for page, asked in large.items() if asked > 30} == {}


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


@pytest.fixture
def long_day(sizes, monkeypatch):
    """As if ninety pieces were more than a person takes in."""
    monkeypatch.setattr(day_sheet, "TAKEN_IN", 20)
    monkeypatch.setattr(projects, "TAKEN_IN", 20)
    return sizes[1]


def rack_of(made):
    """Pieces of one project that were always worked on together."""
    return [piece for piece in made.racks[0] if piece.project_id == made.project.pk]


def ticked(client, address):
    return set(re.findall(r'name="pieces" value="([^"]+)"', client.get(address).content.decode()))


def test_one_that_is_ticked_for_all_that_are_alike_asks_for_each_of_them(long_day):
    rack = rack_of(long_day)
    assert len(rack) > 1
    wanted = {str(piece.pk) for piece in rack}
    assert ticked(long_day.client(), f"/log/?alike={rack[-1].pk}") == wanted
    assert ticked(long_day.client(), f"/log/?alike={rack[0].pk}&piece={rack[1].pk}") == wanted
    rack[0].steps.create(workshop=long_day.workshop, kind="noted", happened_at=NOW, by=long_day.owner)
    other = rack[1]
    assert ticked(long_day.client(), f"/log/?piece={other.pk}") == {str(other.pk)}


def test_a_line_of_bare_iron_is_logged_with_all_that_are_like_it_whichever_project_they_are_for(long_day, monkeypatch):
    monkeypatch.setattr(day_sheet, "CARDS", 0)
    client = long_day.client()
    page = client.get("/", {"open": "hand"})
    bare = [*page.context["day"].bare_pressing, *page.context["day"].bare_in_hand]
    addresses = {html.unescape(found) for found in re.findall(r'href="(/log/\?alike=[^"]+)"', page.content.decode())}
    asked_for = sorted(sorted(ticked(client, address)) for address in addresses)
    assert asked_for == sorted(sorted(str(piece.pk) for piece in outlook.pieces) for outlook in bare)
    assert any(len(outlook.one_a_project) > 1 for outlook in bare)


def test_a_long_day_leaves_out_no_piece_and_opens_a_paint_s_pieces_when_asked(long_day):
    client = long_day.client()
    page = client.get("/")
    day = page.context["day"]
    body = page.content.decode()
    for outlook in day.bare_pressing:
        assert f"/pieces/{outlook.piece.pk}/" in body
    folds = {"hand": day.bare_in_hand, "look": [n.outlook for n in day.may_wait], "blast": day.to_blast}
    assert folds["blast"]
    for name, outlooks in folds.items():
        assert (f'hx-get="?open={name}"' in body) == bool(outlooks)
        inside = client.get("/", {"open": name}, headers={"HX-Request": "true"}).content.decode()
        alone = client.get("/", {"open": name}).content.decode()  # without script
        assert "<main" not in inside
        assert all(f"/pieces/{each.piece.pk}/" in text for each in outlooks for text in (inside, alone))
    opened = re.findall(r'hx-get="\?paint=([^"]+)"', body)
    assert len(opened) == len(day.paint_jobs) > 1
    for job in day.paint_jobs:
        inside = client.get("/", {"paint": job.key}, headers={"HX-Request": "true"}).content.decode()
        assert "<main" not in inside
        marks = set(re.findall(r'name="piece" value="([^"]+)"', inside))
        assert marks == {str(piece.pk) for piece in job.pieces_waiting}
        assert ("Log the ticked" in inside) == (not job.ready)  # what is ready has its button outside the fold
    alone = client.get("/", {"paint": day.paint_jobs[0].key}).content.decode()  # without script
    assert f'name="piece" value="{day.paint_jobs[0].waiting[0].piece.pk}"' in alone


def test_a_long_project_tells_pieces_that_are_alike_once_and_one_by_one_when_asked(long_day):
    client, address = long_day.client(), f"/projects/{long_day.project.pk}/"
    page = client.get(address)
    columns = page.context["columns"]
    assert sum(column.count for column in columns) == long_day.project.pieces.count()
    first = next(alike for column in columns for alike in column.outlooks if len(alike.pieces) > 1)
    inside = client.get(address, {"alike": first.piece.pk}, headers={"HX-Request": "true"}).content.decode()
    assert set(re.findall(r'value="([^"]+)"', inside)) == {str(piece.pk) for piece in first.pieces}
    alone = client.get(address, {"alike": first.piece.pk}).content.decode()
    assert all(f'name="piece" value="{piece.pk}"' in alone for piece in first.pieces)


def test_cards_of_a_long_project_have_the_newest_photo_that_stands_and_a_page_stays_small(long_day):
    project = long_day.project
    board = long_day.client().get(f"/projects/{project.pk}/").content.decode()
    shown = set(re.findall(r'<img src="/photos/([0-9a-f-]+)/thumbnail/" alt="" loading="lazy">', board))
    photos = Photo.objects.filter(step__piece__project=project)
    assert shown
    assert shown < {str(pk) for pk in photos.values_list("pk", flat=True)}
    last = photos.latest("step__happened_at").step
    piece = last.piece
    old, new = (photo_of(piece, last.happened_at + timedelta(minutes=minutes)) for minutes in (1, 2))
    assert Photo.objects.latest_of([piece]) == {piece.pk: new.pk}
    void_step(by=long_day.owner, step=new.step, reason="another piece", now=NOW)
    assert Photo.objects.latest_of([piece]) == {piece.pk: old.pk}


def photo_of(piece, happened_at):
    step = piece.steps.create(workshop=piece.workshop, kind="noted", happened_at=happened_at, by=piece.steps.first().by)
    return factories.photo_of(step, factories.grey_photo())
