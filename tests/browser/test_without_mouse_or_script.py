"""Every journey by keyboard alone, and in a browser without script."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from finishing.library.actions import load_library
from finishing.workshops.models import Invitation, Membership
from projects.plans.actions.making import make_plan
from projects.record.models import Candidate, ColourReply, Piece, Plan, PlanRun, Receipt, Step
from tests import cost_factories, factories
from tests.browser.walkers import ByKeys, WithoutScript

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PHOTO = {"name": "bench.jpg", "mimeType": "image/jpeg", "buffer": factories.grey_photo()}


@pytest.fixture(params=[ByKeys, WithoutScript], ids=["keys", "no-script"])
def stranger_walks(request, chromium, live_server, settings, tmp_path):
    """Somebody who is not signed in, at a desk."""
    settings.MEDIA_ROOT, settings.BACKUPS = tmp_path / "media", tmp_path / "backups"
    context = chromium.new_context(
        base_url=live_server.url,
        viewport={"width": 1280, "height": 800},
        locale="en-GB",
        java_script_enabled=request.param.script,
    )
    page = context.new_page()
    page.set_default_timeout(8000)
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield request.param(page)
    context.close()
    assert not faults, faults


@pytest.fixture
def walk(stranger_walks, owner_client, live_server):
    """The owner, signed in, on the first page."""
    session = owner_client.cookies["sessionid"].value
    stranger_walks.page.context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    stranger_walks.page.goto("/")
    return stranger_walks


def words(walk):
    return " ".join(walk.page.inner_text("body").split())


def test_from_the_link_to_the_first_coat_before(stranger_walks, db):
    walk = stranger_walks
    walk.page.route(f"**{reverse('forecast-fetch')}", lambda route: route.abort())
    walk.page.goto(f"/start/{Invitation.objects.create().token}/")
    walk.fill("Your name", "Ada")
    walk.fill("Name to sign in with", "ada")
    walk.fill("Password", "iron and grit")
    walk.fill("Password again", "iron and grit")
    walk.fill("Workshop's name", "Hollowfield Works")
    walk.fill("Where it stands", "51.5, -0.1")
    walk.press("Begin")
    walk.fill("Piece", "Flywheel")
    walk.fill("Air", "18")
    walk.fill("Humidity", "55")
    walk.fill("Metal", "17")
    walk.press("Coat before when?")
    assert "coat before" in words(walk)
    assert Piece.objects.get().part.name == "Flywheel"


@pytest.fixture
def rack(workshop, roof, system):
    """Two pieces of one part that were blasted an hour ago, under a forecast."""
    factories.steady_forecast(workshop, timezone.now() - timedelta(days=3), hours=24 * 12)
    part = factories.PartFactory(design__workshop=workshop, system=system, name="Frame")
    project = factories.ProjectFactory(design=part.design, name="Press restored")
    pieces = [factories.PieceFactory(part=part, project=project, place=roof, mark=f"F-{n}") for n in (1, 2)]
    for piece in pieces:
        factories.StepFactory(piece=piece, kind="blasted", happened_at=timezone.now() - timedelta(hours=1))
    return pieces


def test_a_rack_is_coated_with_a_photo_taken_back_and_corrected(walk, rack):
    for taken_back in (False, True):
        walk.page.goto("/")
        walk.press("Log a step")
        walk.tick("F-1")
        walk.tick("F-2")
        walk.press("Next")
        walk.press("coated")
        walk.fill("Batch number", "P 118")
        walk.fill("Reason", "no other day")
        walk.hand_in("Photos", PHOTO)
        walk.press("Log: coated")
        walk.page.get_by_text("Logged: ").first.wait_for()
        if not taken_back:
            walk.press("Undo")
            assert Step.objects.filter(kind="voided").count() == 2
    walk.press("Correct")
    walk.fill("Batch number", "P 119")
    walk.press("Log: coated")
    walk.page.get_by_role("button", name="Log: coated").wait_for(state="detached")
    standing = Step.objects.filter(kind="coated", voided_by=None)
    assert {step.batch for step in standing} == {"P 119"}
    assert standing.count() == 2


LIST = "part,area,system,mark\nFrame,{},Alkyd: zinc phosphate and two coats of enamel,F-1\n"


def test_parts_pieces_and_a_list_of_them(walk, workshop, roof):
    load_library(workshop)
    walk.press("Projects")
    walk.press("New project")
    walk.fill("Name", "Press restored")
    walk.press("Begin the project")
    walk.press("From a spreadsheet")
    for area in ("much", "0.4 m²"):
        file = {"name": "parts.csv", "mimeType": "text/csv", "buffer": LIST.format(area).encode()}
        walk.hand_in("The filled sheet", file)
        if area != "much":
            walk.choose("Pieces go into", "Press restored")
            walk.choose("They stand in", "Lean-to")
        walk.press("Look at it")
        assert ("is not understood" in words(walk)) == (area == "much")
    walk.press("Take it all in")
    assert Piece.objects.get().part.system.name.startswith("Alkyd")


def test_a_machine_is_taken_apart_and_put_together(walk, rack):
    machine = factories.MachineFactory(project=rack[0].project, number="1")
    walk.press("Projects")
    walk.press("Press restored")
    walk.press("Strip-down")
    walk.hand_in("Photo", PHOTO)
    walk.choose("Which part", "Frame, F-1")
    walk.fill("Where it came off", "under the table")
    walk.press("It is off")
    assert "Off, tag 1" in words(walk)
    walk.press("Refit")
    walk.press("It is back")
    assert "All is back" in words(walk)
    assert machine.fittings.exists()


def test_a_helper_is_asked_in_and_something_is_found(walk, rack, chromium, live_server):
    walk.fill("Search in everything", "F-2")
    walk.page.keyboard.press("Enter")
    walk.page.wait_for_url("**/search/**")
    walk.press("F-2")
    assert "Frame" in words(walk)
    walk.press("Settings")
    walk.press("Members")
    walk.choose("Role", "helper")
    walk.press("Make a link")
    link = walk.page.locator("input[value*='/join/']").first.input_value()
    walk.page.context.clear_cookies()
    walk.page.goto(link)
    walk.fill("Your name", "Ben")
    walk.fill("Name to sign in with", "ben")
    walk.fill("Password", "rust never sleeps")
    walk.fill("Password again", "rust never sleeps")
    walk.press("Join")
    assert Membership.objects.get(user__username="ben").role == "helper"
    walk.press("Sign out")
    walk.fill("Name", "ben")
    walk.fill("Password", "rust never sleeps")
    walk.press("Sign in")
    assert "Log a step" in words(walk)


def test_a_backup_is_made_and_something_set_aside_comes_back(walk, rack):
    walk.press("Settings")
    walk.press("Backups")
    walk.press("Make a backup now")
    assert "Waiting for its turn" in words(walk)  # the worker makes it
    walk.page.goto(f"/pieces/{rack[0].pk}/")
    walk.press("Set aside")
    walk.press("Settings")
    walk.press("Set aside")
    walk.press("F-1")
    walk.press("Take it up again")
    assert not Piece.objects.get(pk=rack[0].pk).set_aside


def test_a_visit_is_prepared(walk, rack):
    raw = factories.PieceFactory(part=rack[0].part, project=rack[0].project, place=rack[0].place, mark="F-3")
    walk.page.goto("/")
    walk.press("To be blasted")
    walk.press("Prepare a visit")
    walk.fill("Date", str(timezone.localdate() + timedelta(days=2)))
    walk.fill("Contractor", "Grit Brothers")
    for label, typed in {"Call-out": "60", "Travel": "30", "Rate per hour": "90", "Nozzle bore": "11 mm"}.items():
        walk.fill(label, typed)
    walk.press("Next: the pieces")
    walk.tick("F-3")
    walk.press("Keep the pieces")
    walk.press("Blast sheet")
    assert raw.mark in words(walk)


def test_prices_are_asked_quoted_ordered_and_received(walk, workshop, roof):
    design = factories.DesignFactory(workshop=workshop, name="Wren fretsaw")
    part = factories.PartFactory(design=design, name="Frame", mass=12.5)
    cost_factories.OperationFactory(part=part, process="casting")
    cost_factories.SupplierFactory(workshop=workshop, name="Hollow Foundry")
    factories.ProjectFactory(design=design, name="Run of two")
    walk.press("Costs")
    walk.press("Wren fretsaw")
    walk.press("Requests")
    walk.press("Ask for prices")
    walk.choose("Supplier", "Hollow Foundry")
    walk.fill("For how many machines", "1, 2")
    walk.tick("Frame")
    walk.fill("Why more than one", "the old one is the pattern")
    walk.press("Make the sheet")
    walk.press("Wren fretsaw")
    walk.press("Quotes")
    walk.press("Frame")
    walk.choose("Supplier", "Hollow Foundry")
    walk.fill("From", "1")
    walk.fill("Price", "48")
    walk.press("Keep it")
    assert "48.00" in words(walk)
    walk.press("Quotes for Wren fretsaw")
    walk.press("Ordering plan")
    walk.fill("Machines", "2")
    walk.press("Work it out")
    walk.choose("For the batch", "Run of two")
    walk.fill("Why it is ordered all the same", "the old one is the pattern")
    walk.press("Make 1 order")
    walk.press("Hollow Foundry")
    walk.press("Receive")
    walk.fill("Came good", "2")
    walk.press("Receive them")
    assert Receipt.objects.get().good == 2


def test_colours_are_tried_out_and_a_customer_answers(walk, rack):
    factories.photo_of(rack[0].steps.get(), factories.grey_photo())
    walk.page.goto(f"/pieces/{rack[0].pk}/")
    walk.press("Try colours on a photo")
    walk.press("Try colours on it")
    walk.choose("Letters in the photo are", "lighter")
    walk.press("Keep the marks")
    walk.fill("Or letters by value", "#e6cf8f")
    walk.fill("Body", "#2f5a44")
    walk.press("See it")
    assert Candidate.objects.count() == 1
    walk.press("Make an address to share")
    walk.page.goto(walk.page.locator("#sheet-address").input_value())
    walk.choose("Which one", "#e6cf8f")
    walk.fill("In words", "The dark one, please.")
    walk.fill("Who says so", "Ida")
    walk.press("Send it")
    assert ColourReply.objects.get().candidate.letters == "#e6cf8f"


def test_a_plan_is_made_and_accepted(walk, workshop, rack):
    walk.press("Plan")
    walk.press("Make a plan")
    assert "The plan so far" in words(walk)
    make_plan(PlanRun.objects.get(), timezone.now())
    walk.page.goto("/")
    walk.press("Plan")
    walk.press("Accept this plan")
    assert Plan.objects.kept().count() == 1
    walk.press("The evening before")
    assert "evening" in words(walk).lower()
