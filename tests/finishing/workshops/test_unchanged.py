"""A page that has not changed since a browser fetched it is not made again; one that has is never shown as it was."""

from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection, transaction
from django.test import Client

from finishing.air.actions.weather import add_reading
from finishing.air.models import Reading
from finishing.site.editions import changes_a_page, current_edition
from finishing.workshops.models import Membership, Workshop
from projects.record.actions.log import log_step
from projects.record.models import Piece
from tests import factories

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 12, 9, tzinfo=UTC)


@pytest.fixture
def piece(workshop, roof, system, django_capture_on_commit_callbacks):
    factories.steady_forecast(workshop, NOW - timedelta(days=3))
    part = factories.PartFactory(design__workshop=workshop, system=system)
    with time_machine.travel(NOW, tick=False), django_capture_on_commit_callbacks(execute=True):
        yield factories.PieceFactory(part=part, place=roof)


@pytest.fixture
def commits(django_capture_on_commit_callbacks):
    """What happens inside is committed as it would be outside of a test."""

    @contextmanager
    def committed():
        connection.run_on_commit.clear()  # as it is when a transaction begins
        with django_capture_on_commit_callbacks(execute=True):
            yield

    return committed


@pytest.fixture
def pages(piece, commits):
    with commits():
        piece.save()  # so that there is an edition
    project = piece.project_id
    return ["/", "/projects/", f"/projects/{project}/", f"/pieces/{piece.pk}/", "/visits/",
            f"/projects/{project}/paint/", f"/projects/{project}/costs/"]  # fmt: skip


def tag_of(client, page="/"):
    """As a browser has it that has been here before, with the cookie that forms are sent with."""
    client.get(page)
    return client.get(page)["ETag"]


def again(client, page, tag):
    return client.get(page, headers={"If-None-Match": tag}).status_code


def test_a_page_that_stays_is_answered_304_and_is_kept_by_one_browser_alone(owner_client, pages):
    for page in pages:
        first = owner_client.get(page)
        assert first.status_code == 200
        assert {"private", "no-cache"} <= set(first["Cache-Control"].split(", "))
        assert "HX-Request" in first["Vary"]
        assert again(owner_client, page, tag_of(owner_client, page)) == 304


def test_no_such_page_has_a_form_that_is_known_by_its_key(owner_client, pages):
    assert not [page for page in pages if 'name="key"' in owner_client.get(page).content.decode()]


CHANGES = {
    "an entry": lambda piece, by: log_step(
        by=by, key=piece.pk, kind="noted", happened_at=NOW, pieces=[piece], of_each={}, note="chipped"
    ),
    "a reading": lambda piece, by: add_reading(
        Reading(workshop=piece.workshop, place=piece.place, taken_at=NOW, temperature=12, humidity=70), by=by
    ),
    "a forecast": lambda piece, by: factories.steady_forecast(piece.workshop, NOW),
    "a setting": lambda piece, by: Workshop.objects.filter(pk=piece.workshop_id).update(units="us"),
    "many rows at once": lambda piece, by: Piece.objects.bulk_update([piece], ["mark"]),
    "a row that goes": lambda piece, by: piece.delete(),
    "rows that belong together": lambda piece, by: factories.PlanRunFactory(
        workshop=piece.workshop
    ).projects.set([piece.project]),
    "another's name": lambda piece, by: factories.MembershipFactory(workshop=piece.workshop, user__first_name="Edda"),
}  # fmt: skip


@pytest.mark.parametrize("change", CHANGES)
def test_after_a_change_no_page_is_stale(owner_client, owner, piece, pages, commits, change):
    tag = tag_of(owner_client)
    with commits():
        CHANGES[change](piece, owner)
    assert again(owner_client, "/", tag) == 200


def test_a_change_that_was_taken_back_is_none(owner_client, pages, piece, commits):
    tag = tag_of(owner_client)
    with commits(), transaction.atomic():
        piece.save()
        transaction.set_rollback(True)
    assert again(owner_client, "/", tag) == 304


def test_the_next_minute_is_another_page(owner_client, pages):
    tag = tag_of(owner_client)
    with time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        assert again(owner_client, "/", tag) == 200


def test_a_message_is_told_once_and_is_on_no_page_that_is_kept(owner_client, pages, piece, commits):
    tag = tag_of(owner_client, f"/projects/{piece.project_id}/")
    close = f"/projects/{piece.project_id}/follower/close/"
    owner_client.post(close)  # it changes no row here, and says so
    told = owner_client.get(f"/projects/{piece.project_id}/", headers={"If-None-Match": tag})
    assert told.status_code == 200
    assert "The address is closed." in told.content.decode()
    assert "ETag" not in told
    assert "The address is closed." not in owner_client.get(f"/projects/{piece.project_id}/").content.decode()


def test_nobody_is_told_that_he_has_what_another_was_shown(owner_client, guest_client, helper_client, pages):
    tag = tag_of(owner_client)
    assert again(guest_client, "/", tag) == 200
    assert again(helper_client, "/", tag) == 200
    assert again(Client(), "/", tag) == 302


def test_another_role_is_another_page(helper, helper_client, pages, commits):
    tag = tag_of(helper_client)
    with commits():
        Membership.objects.filter(user=helper).update(role="guest")
    assert again(helper_client, "/", tag) == 200


def test_a_fragment_is_not_taken_for_the_page(owner_client, pages):
    tag = tag_of(owner_client)
    answered = owner_client.get("/", headers={"If-None-Match": tag, "HX-Request": "true"})
    assert answered.status_code == 200


def test_looking_changes_nothing(owner_client, pages, commits):
    before = current_edition()
    with commits():
        for page in pages:
            owner_client.get(page)
    assert current_edition() == before


def test_what_is_on_no_page_is_no_change():
    assert changes_a_page('INSERT INTO "projects_step" ("id") VALUES (%s)')
    assert changes_a_page('UPDATE "finishing_place" SET "name" = %s')
    assert changes_a_page('DELETE FROM "projects_slot_pieces" WHERE 1')
    assert changes_a_page('INSERT OR IGNORE INTO "projects_change" ("id") VALUES (%s)')
    assert not changes_a_page('UPDATE "django_session" SET "session_data" = %s')
    assert not changes_a_page('SELECT "projects_step"."id" FROM "projects_step"')
