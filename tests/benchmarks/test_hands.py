"""How many taps, boxes, pages and seconds the first day takes, by hands in gloves: a key takes 250 ms, a tap a second,
a page two to be read. A tap is one on a button, a link or a tick; the second that it takes to get into a box counts,
not the tap. The owner's name and password are set before the clock runs.
"""

import time
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Locator, Page

from finishing.air.actions.weather import keep_forecast
from finishing.air.models import Forecast
from finishing.workshops.actions.workshops import first_link
from finishing.workshops.models import Workshop
from projects.record.models import Step

pytestmark = pytest.mark.django_db(transaction=True)

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
