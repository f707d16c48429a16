"""How many taps, boxes, pages and seconds the first day takes, by hands in gloves: a key takes 250 ms, a tap a second,
a page two to be read. A tap is one on a button, a link or a tick; the second that it takes to get into a box counts,
not the tap. The owner's name and password are set before the clock runs.
"""

import datetime as dt
import os
import random
import sqlite3
import time
from dataclasses import dataclass, replace
from datetime import timedelta
from io import BytesIO

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Locator, Page

from finishing.air.actions.weather import keep_forecast
from finishing.air.models import Forecast
from finishing.workshops.actions.workshops import first_link
from finishing.workshops.models import Workshop
from projects.record.models import Step
from tests import factories
from tests.benchmarks.served import served

KEY, TAP, READ = 0.25, 1.0, 2.0  # seconds


@dataclass
class Hands:
    page: Page
    taps: int = 0
    fields: int = 0
    pages: int = 1
    began: float = 0.0

    def begin(self):
        self.began = time.monotonic()
        time.sleep(READ)

    def type(self, box: Locator, text: str):
        time.sleep(TAP)
        box.press_sequentially(text, delay=1000 * KEY)
        self.fields += 1

    def tap(self, thing: Locator, leads: bool = True):
        time.sleep(TAP)
        thing.click()
        self.taps += 1
        if leads:
            self.page.wait_for_load_state()
            time.sleep(READ)
            self.pages += 1

    @property
    def seconds(self):
        return time.monotonic() - self.began


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("forecast", [False, True], ids=["without_forecast", "with_forecast"])
def test_hands_from_the_link_to_the_first_coat_before(page, open_years, forecast):
    page.route(f"**{reverse('forecast-fetch')}", lambda route: route.abort())  # its weather is kept here, not asked for
    page.goto(reverse("first-start", args=[first_link().token]))
    page.get_by_label("Your name").fill("Ada Hollow")
    page.get_by_label("Name to sign in with").fill("ada")
    page.get_by_label("Password", exact=True).fill("grit and iron")
    page.get_by_label("Password again").fill("grit and iron")
    hands = Hands(page)
    hands.begin()
    hands.type(page.get_by_label("Workshop's name"), "Hollow Lane")
    hands.type(page.get_by_label("Where it stands"), "Ludlow, England")
    if forecast:
        page.on("response", lambda answer: _foretell(open_years) if answer.status == 302 else None)
    hands.tap(page.get_by_role("button", name="Begin"))
    for label, text in (("Piece", "Flywheel"), ("Air", "17.5"), ("Humidity", "62")):
        hands.type(page.get_by_role("textbox", name=label), text)
    hands.tap(page.get_by_role("button", name="Coat before when?"))
    shown = page.inner_text("main")
    assert "coat before" in shown.lower(), shown
    step = Step.objects.get()
    assert (step.kind, bool(step.piece.part.system)) == ("blasted", False)
    name = "firstrun" if not forecast else "firstrun.forecast"
    print(f"\nfigure {name}.taps {hands.taps} taps")
    print(f"figure {name}.fields {hands.fields} fields")
    print(f"figure {name}.pages {hands.pages} pages")
    print(f"figure {name}.s {hands.seconds:.0f} s")


def _foretell(years):
    """Ten days of a May on a river plain, from two days ago on."""
    workshop = Workshop.objects.first()
    if workshop is None or Forecast.objects.exists():
        return
    begin = np.datetime64("1990-05-01T00")
    now = timezone.now()
    first = np.datetime64(now.replace(tzinfo=None), "h") - np.timedelta64(48, "h")
    hours = years["inland"].between(begin, begin + np.timedelta64(12 * 24, "h"))
    keep_forecast(workshop, replace(hours, start=first), now - timedelta(days=2))


CUTS = int(os.environ.get("HANDS_CUTS", "50"))
BEFORE, DURING, AFTER, CLOSED, RESTARTED = "before", "during", "after", "closed", "restarted"


def test_hands_no_entry_is_lost_or_made_twice_by_cuts(chromium, tmp_path):
    """Notes with a photo each, one after the other, each cut at random: before the send, during it (it arrives, its
    answer does not), after it, with the tab closed and opened, or with the server stopped and started. A seed."""
    draw = random.Random(14)
    with served(30, tmp_path) as server:
        context = chromium.new_context(base_url=server.address, viewport={"width": 390, "height": 844})
        context.add_cookies([{"name": "sessionid", "value": server.session, "url": server.address}])
        address = f"/log/?piece={server.racks[0][0]}&kind=noted"
        page, words = context.new_page(), [f"cut {number}" for number in range(CUTS)]
        page.goto(address)
        for text in words:
            cut = draw.choice((BEFORE, DURING, AFTER, CLOSED, RESTARTED))
            if not page.locator("main form[data-outbox]").count():
                page.goto(address)
            page.locator("[name=note]").fill(text)
            page.locator("main [type=file]").set_input_files(_photo())
            if cut == BEFORE:
                context.set_offline(True)
            elif cut == DURING:
                page.route("**/log/", _lose_the_answer)
            elif cut == RESTARTED:
                server.stop()
            page.get_by_role("button", name="Log: note").click(no_wait_after=True)
            if cut in (CLOSED, AFTER):
                time.sleep(draw.uniform(0, 0.6))
            else:
                page.locator("#outbox").or_(page.locator(".message")).first.wait_for()
            if cut in (CLOSED, DURING, AFTER):
                page.close()
                page = context.new_page()
            context.set_offline(False)
            if cut == RESTARTED:
                server.start()
            if cut in (CLOSED, DURING, AFTER):
                page.goto(address)
        page.goto(address)
        until = time.monotonic() + 60
        while page.locator("#outbox").count() and time.monotonic() < until:
            page.wait_for_timeout(500)
        context.close()
        with sqlite3.connect(tmp_path / "fettlebook.sqlite3") as database:
            notes = database.execute("SELECT note FROM projects_step WHERE note LIKE 'cut %' ORDER BY entered_at")
            kept = [note for (note,) in notes]
    lost, twice = [text for text in words if text not in kept], [text for text in words if kept.count(text) > 1]
    print(f"\nfigure offline.cuts {CUTS} cuts\nfigure offline.entries_lost {len(lost)} entries")
    print(f"figure offline.entries_twice {len(twice)} entries")
    print(f"figure offline.in_order {int(kept == sorted(kept, key=words.index))} 1_is_yes")
    assert not lost
    assert not twice


def _photo():
    held = BytesIO()
    Image.new("RGB", (64, 48), "grey").save(held, "JPEG")
    return {"name": "flange.jpg", "mimeType": "image/jpeg", "buffer": held.getvalue()}


def _lose_the_answer(route):
    if route.request.method == "POST":
        route.fetch()
        route.abort()
    else:
        route.continue_()


@pytest.fixture
def six_bare(workshop, roof, system):
    """Six castings of one rack, blasted an hour ago, and a reading under the roof a minute old."""
    now = timezone.now()
    workshop.work_from, workshop.work_until, workshop.work_days = dt.time(0), dt.time(23, 59), "1111111"
    workshop.save()
    factories.steady_forecast(workshop, now - timedelta(days=3))
    factories.ReadingFactory(place=roof, taken_at=now - timedelta(minutes=1))
    design = factories.DesignFactory(workshop=workshop)
    part, project = factories.PartFactory(design=design, system=system), factories.ProjectFactory(design=design)
    pieces = [factories.PieceFactory(part=part, project=project, place=roof) for _ in range(6)]
    for piece in pieces:
        factories.StepFactory(piece=piece, kind="blasted", happened_at=now - timedelta(hours=1))
    return pieces


@pytest.mark.django_db(transaction=True)
def test_hands_coat_undo_and_correct_a_rack(signed_in_page, six_bare):
    page, coats = signed_in_page, Step.objects.filter(kind="coated", voided_by=None)

    def coat():
        page.goto(reverse("day-sheet"))
        hands = Hands(page)
        hands.tap(page.locator("form.paint > button").first, leads=False)
        hands.tap(page.get_by_role("button", name="Log: coated"), leads=False)
        page.get_by_text("Logged: coated").wait_for()
        return hands

    coating = coat()
    assert coats.count() == 6
    undoing = Hands(page)
    undoing.tap(page.get_by_role("button", name="Undo"), leads=False)
    page.get_by_text("Taken back").wait_for()
    assert not coats.exists()
    coat()
    page.goto(reverse("day-sheet"))
    correcting = Hands(page)
    correcting.tap(page.locator("form.paint summary").first, leads=False)
    correcting.tap(page.locator(f"form.paint a[href='{reverse('piece', args=[six_bare[0].pk])}']").first, leads=False)
    correcting.tap(page.get_by_role("link", name="Correct").first, leads=False)
    page.get_by_label("Batch number on the tin").fill("L 2217")
    correcting.tap(page.get_by_role("button", name="Log: coated"), leads=False)
    page.get_by_text("Corrected: coated").wait_for()
    assert set(coats.values_list("batch", flat=True)) == {"L 2217"}
    assert coats.count() == 6
    print(f"\nfigure rack.coat.taps {coating.taps} taps")
    print(f"figure rack.undo.taps {undoing.taps} taps")
    print(f"figure rack.correct.taps {correcting.taps} taps")
    assert (coating.taps, undoing.taps) == (2, 1)
    assert correcting.taps <= 4
