"""What a workshop does each day, told once and walked twice: by keys alone, and in a browser that runs no script."""

import pytest
from django.urls import reverse

from finishing.workshops.actions.workshops import first_link
from finishing.workshops.models import Place, Workshop
from projects.record.models import Step
from tests import factories
from tests.browser.hands import Keys, WithoutScript

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture(params=[Keys, WithoutScript], ids=["keys", "without script"])
def hands(request, chromium, live_server):
    context = chromium.new_context(
        base_url=live_server.url,
        viewport={"width": 390, "height": 844},
        java_script_enabled=request.param is not WithoutScript,
    )
    yield request.param(context.new_page())
    context.close()


@pytest.fixture
def owners_hands(hands, owner_client, live_server):
    session = owner_client.cookies["sessionid"].value
    hands.page.context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    return hands


def test_an_owner_begins_by_the_link(hands, db):
    hands.page.goto(reverse("first-start", args=[first_link().token]))
    for label, text in (
        ("Your name", "Ada Hollow"),
        ("Name to sign in with", "ada"),
        ("Password", "grit and iron"),
        ("Password again", "grit and iron"),
        ("Workshop's name", "Hollow Lane"),
        ("Where it stands", "54.1, -1.9"),
    ):
        hands.type(label, text)
    hands.press("Begin")
    hands.page.get_by_text("Welcome to Hollow Lane.").wait_for()
    assert Workshop.objects.get().name == "Hollow Lane"


def test_an_entry_is_logged_and_taken_back(owners_hands, workshop, roof, system):
    piece = factories.PieceFactory(part__design__workshop=workshop, part__system=system, place=roof)
    owners_hands.page.goto(f"{reverse('log')}?piece={piece.pk}&kind=blasted")
    owners_hands.type("Note", "grit in the bore")
    owners_hands.press("Log: blasted")
    owners_hands.page.get_by_text("Logged: blasted").wait_for()
    assert Step.objects.get().note == "grit in the bore"
    owners_hands.press("Undo")
    owners_hands.page.get_by_role("button", name="Undo").wait_for(state="detached")
    assert Step.objects.filter(kind="voided").count() == 1


def test_a_place_is_made(owners_hands, workshop):
    owners_hands.page.goto(reverse("place-new"))
    owners_hands.type("Name", "Den")
    owners_hands.press("Keep this place")
    owners_hands.page.wait_for_url(f"**{reverse('places')}")
    assert Place.objects.of(workshop).filter(name="Den").count() == 1
