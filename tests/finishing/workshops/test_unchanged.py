"""A page that has not changed since a browser fetched it is not made again; one that has is never shown as it was."""

import re
import threading
import time
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection, transaction
from django.test import Client

from finishing.air.actions.weather import add_reading
from finishing.air.models import Reading
from finishing.site.editions import changes_a_page, current_edition
from finishing.site.kept_pages import OLDER, KeptPages
from finishing.workshops import access
from finishing.workshops.models import Membership, Workshop
from projects.day import domain
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
        connection.run_on_commit.clear()

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
    """The form for where there is no signal has none before the browser gives it one."""
    assert not [page for page in pages if re.search(r'name="key" +value', owner_client.get(page).content.decode())]


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


def test_what_is_not_committed_yet_is_shown_to_whoever_changes_it_and_kept_for_nobody(owner_client, pages, piece):
    owner_client.get("/")
    Piece.objects.filter(pk=piece.pk).update(mark="another mark")
    assert "another mark" in owner_client.get("/").content.decode()
    assert "ETag" not in owner_client.get("/")


def test_looking_changes_nothing(owner_client, pages, commits):
    before = current_edition()
    with commits():
        for page in pages:
            owner_client.get(page)
    assert current_edition() == before


def test_a_kept_plan_that_was_looked_at_and_stands_is_no_change(pages, piece, commits):
    plan = factories.PlanFactory(run__workshop=piece.workshop)
    connection.run_on_commit.clear()
    before = current_edition()
    with commits():
        plan.save(update_fields=["checked_at", "forecast"])
    assert current_edition() == before
    with commits():
        plan.save()
    assert current_edition() != before


def test_what_is_on_no_page_is_no_change():
    assert changes_a_page('INSERT INTO "projects_step" ("id") VALUES (%s)')
    assert changes_a_page('UPDATE "finishing_place" SET "name" = %s')
    assert changes_a_page('DELETE FROM "projects_slot_pieces" WHERE 1')
    assert changes_a_page('INSERT OR IGNORE INTO "projects_photo" ("id") VALUES (%s)')
    assert changes_a_page('INSERT INTO "projects_planrun_projects" ("id") VALUES (%s)')
    assert not changes_a_page('UPDATE "django_session" SET "session_data" = %s')
    assert not changes_a_page('UPDATE "projects_planrun" SET "progress" = %s')
    assert changes_a_page('UPDATE "projects_plan" SET "state" = %s, "checked_at" = %s WHERE "projects_plan"."id" = %s')
    assert changes_a_page('INSERT INTO "projects_plan" ("id", "checked_at") VALUES (%s, %s)')
    assert not changes_a_page('SELECT "projects_step"."id" FROM "projects_step"')


# -- one page for all who are shown the same


@pytest.fixture
def made(monkeypatch):
    """What the day sheet was made of, each time."""
    calls, real = [], domain.day_sheet
    monkeypatch.setattr(domain, "day_sheet", lambda *asked: calls.append(asked) or real(*asked))
    return calls


def without_own_parts(response):
    """The page without its tokens, empty lines, and the numbers by which words that are explained are told apart."""
    page = re.sub(r"\s*\n\s*", "\n", response.content.decode())
    return re.sub(r"[A-Za-z0-9]{64}|term-[0-9a-f]{8}", "token", page)


def test_all_who_may_do_the_same_are_shown_what_was_made_for_the_first(workshop, pages, made):
    clients = [signed_in(workshop, "helper") for _ in range(3)]
    shown = {without_own_parts(client.get("/")) for client in clients}
    assert len(made) == len(shown) == 1
    assert without_own_parts(signed_in(workshop, "owner").get("/")) not in shown
    assert len(made) == 2


def test_a_kept_page_is_what_would_have_been_made_for_oneself(owner_client, pages, monkeypatch):
    kept = [without_own_parts(owner_client.get(page)) for page in pages]
    monkeypatch.setattr(access, "current_edition", lambda: "")  # so that none is kept
    assert kept == [without_own_parts(owner_client.get(page)) for page in pages]


def test_everybody_is_given_a_token_of_his_own_and_no_mark_stays(workshop, pages):
    clients = [signed_in(workshop, "owner", enforce_csrf_checks=True) for _ in range(2)]
    for page in pages:
        tokens = []
        for client in clients:
            shown = client.get(page).content.decode()
            assert access.OWN_TOKEN not in shown
            assert access.OWN_MESSAGES not in shown
            tokens.append(set(re.findall(r'name="csrfmiddlewaretoken" value="([^"]+)"', shown)))
            assert all(len(token) == 64 for token in tokens[-1])
        assert tokens[0]
        assert not tokens[0] & tokens[1]
    sent = {"csrfmiddlewaretoken": tokens[0].pop()}
    assert clients[1].post("/sign-out/", sent).status_code == 403
    assert clients[0].post("/sign-out/", sent).status_code == 302


def test_what_one_is_told_is_told_to_nobody_else_and_its_form_has_ones_own_token(workshop, piece, pages, commits):
    told, other = (signed_in(workshop, "owner", enforce_csrf_checks=True) for _ in range(2))
    other.get("/")
    page = told.get("/log/", {"piece": piece.pk, "kind": "noted"}).content.decode()
    sent = {name: re.search(f'name="{name}" value="([^"]+)"', page)[1] for name in ("csrfmiddlewaretoken", "key")}
    entry = {"kind": "noted", "pieces": [piece.pk, factories.PieceFactory(part=piece.part, project=piece.project).pk]}
    with commits():
        posted = told.post("/log/", {**sent, **entry, "note": "chipped", "happened_at": "2026-05-12T10:00"})
    assert posted.status_code == 302
    shown = told.get("/").content.decode()
    assert "Logged:" in shown
    tokens = re.findall(r'name="csrfmiddlewaretoken" value="([^"]+)"', shown)
    assert len(tokens) == shown.count("csrfmiddlewaretoken") >= 2  # to sign out, and to undo
    assert access.OWN_TOKEN not in tokens
    assert "Logged:" not in other.get("/").content.decode()
    assert "Logged:" not in told.get("/").content.decode()


def test_no_workshop_is_shown_what_another_is(owner_client, piece, pages):
    stranger = signed_in(factories.WorkshopFactory(name="Another works"), "owner")
    assert piece.mark in owner_client.get("/projects/" + str(piece.project_id) + "/").content.decode()
    for page in pages:
        own, theirs = owner_client.get(page), stranger.get(page)
        assert own.status_code == 200
        assert theirs.status_code == (200 if page in ("/", "/projects/", "/visits/") else 404)
        assert str(piece.pk) not in theirs.content.decode()
        assert str(piece.workshop) not in theirs.content.decode()


def test_another_name_of_the_server_is_another_page(owner_client, piece, pages, settings, commits):
    settings.ALLOWED_HOSTS = ["here.test", "there.test"]
    with commits():
        owner_client.post(f"/projects/{piece.project_id}/follower/new/", {"name": "Ada"}, headers={"host": "here.test"})
    project = f"/projects/{piece.project_id}/"
    for host in ("here.test", "there.test"):
        assert f"http://{host}/" in owner_client.get(project, headers={"host": host}).content.decode()


def test_a_view_that_asks_who_looks_is_not_kept(owner_client, pages, monkeypatch):
    monkeypatch.setattr(domain, "day_sheet", lambda *asked: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        owner_client.get("/")  # whatever goes wrong as it is made is told, and kept no more than the page
    monkeypatch.undo()
    assert owner_client.get("/").status_code == 200
    with pytest.raises(access.PersonalPage):
        access.AnyMember().username  # noqa: B018


def test_what_is_looked_at_is_made_before_it_is_asked_for_again(owner_client, piece, owner, pages, commits, made):
    access.PAGES.forget()
    owner_client.get("/")
    owner_client.get("/")
    owner_client.get("/projects/")  # but once
    done = access.make_ahead(None)
    assert len(made) == 1
    with commits():
        CHANGES["an entry"](piece, owner)
    assert access.make_ahead(done) != done
    assert len(made) == 2
    assert owner_client.get("/").status_code == 200
    assert len(made) == 2


def test_those_who_ask_at_once_wait_for_the_one_who_makes_it():
    pages, begun, go_on = KeptPages(), threading.Event(), threading.Event()

    def make():
        begun.set()
        assert go_on.wait(10)
        return object()

    found = []
    people = [threading.Thread(target=lambda: found.append(pages.get("day", 1, make))) for _ in range(5)]
    for person in people:
        person.start()
    assert begun.wait(10)
    go_on.set()
    for person in people:
        person.join(10)
    assert len(found) == 5
    assert len(set(found)) == 1
    assert pages.get("day", 2, object) not in found


def test_while_it_is_made_anew_the_one_before_is_shown_to_whoever_has_seen_no_newer():
    pages, now = KeptPages(), time.monotonic()
    for edition in (1, 2):
        pages.note_held(edition, now + edition / 100)
        pages.note_asked("day")
    day = pages.get("day", 1, object)
    assert pages.before("day", 2, "Ada") is None  # nobody makes it, so he does
    assert pages.keep_up(1) == ["day"]
    assert pages.before("day", 2, "Ada") == (1, day)
    pages.note_read("Ada", 1)
    pages.note_read("Bob", 2)  # of another page
    assert pages.before("day", 2, "Ada") == (1, day)
    assert pages.before("day", 2, "Bob") is None
    pages.note_held(3, now + 1)
    assert pages.before("day", 3, "Ada") == (1, day)
    newer = pages.get("day", 2, object)
    assert pages.before("day", 2, "Ada") is None
    assert pages.before("day", 3, "Ada") == (2, newer)
    pages.note_held(3, now + OLDER + 1)
    assert pages.before("day", 3, "Ada") is None  # too long ago


def test_who_has_sent_something_is_never_shown_the_page_of_before(
    owner_client, workshop, roof, pages, commits, monkeypatch
):
    monkeypatch.setattr(access.time, "monotonic", lambda: 1000.0)  # all of it in one moment, however slow
    other = signed_in(workshop, Membership.Role.OWNER)
    before = tag_of(other)
    access.PAGES.keep_up(9)
    with commits():
        air = {"temperature": "37.5", "humidity": "41", "taken_at": "2026-05-12T09:00", "place": roof.pk}
        assert owner_client.post("/weather/readings/new/", air).status_code == 302
    owner_client.get("/weather/")  # where he is told that it is noted
    assert other.get("/")["ETag"] == before
    assert b"37.5" not in other.get("/").content
    assert b"37.5" in owner_client.get("/").content
    after = other.get("/")
    assert b"37.5" in after.content  # it is made now
    assert again(other, "/", before) == 200
    assert again(other, "/", after["ETag"]) == 304


def signed_in(workshop, role, **own):
    client = Client(**own)
    client.force_login(factories.MembershipFactory(workshop=workshop, role=role).user)
    connection.run_on_commit.clear()  # as it is long after
    return client
