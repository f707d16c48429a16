"""Every page in a real browser at the width of a small phone and with letters twice as large (WCAG 2.2, criteria 1.4.4
and 1.4.10): nothing runs out at the side, and a wet glove hits every button. The smallest target is common practice for
work with gloves, no source: 48 pixels."""

import pytest
from django.urls import reverse

from tests.accessible import LOOKS, violations
from tests.addresses import of_kind, pages

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RUNS_OUT = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
# a word explained in its sentence is as large as a link there
TOO_SMALL = """
[...document.querySelectorAll(
  "button:not(.term), .button, select, textarea, summary, nav a, .tick, "
  + "input:not([type=checkbox], [type=radio], [type=hidden])"
)].filter(thing => thing.checkVisibility() && !thing.closest(".skip"))
  .map(thing => [thing, thing.getBoundingClientRect()])
  .filter(([thing, box]) => box.height > 0 && box.height < 47.5)
  .map(([thing, box]) => `${thing.outerHTML.slice(0, 80)} ${box.height}`)
"""


def test_no_page_runs_out_or_keeps_anybody_out_and_every_target_is_large(signed_in_page, known, one_of_each):
    page, faults, seen = signed_in_page, [], 0
    asking = page.context.new_cdp_session(page)
    read = [(name, each.kind) for name, each in known.items() if each.read]
    for address in [address for name, kind in read for address in pages(name, of_kind(one_of_each, kind))]:
        page.goto(address)
        seen += 1
        for width, letters in ((320, 16), (390, 32)):
            page.set_viewport_size({"width": width, "height": 740})
            asking.send("Page.setFontSizes", {"fontSizes": {"standard": letters}})
            out = page.evaluate(RUNS_OUT)
            faults += [f"{address} at {width} px with letters of {letters} px runs out by {out}"] if out > 0 else []
        asking.send("Page.setFontSizes", {"fontSizes": {"standard": 16}})
        faults += [f"{address}: {small}" for small in page.evaluate(TOO_SMALL)]
        size, scheme = LOOKS[seen % len(LOOKS)]  # benchmarks/ look at each page in all of them
        faults += [f"{address} {size} {scheme}: {fault}" for fault in violations(page, size, scheme)]
    assert not faults, "\n".join(faults)
    assert seen > 100


def test_a_person_begins_by_the_link_and_mends_what_was_wrong(page, db):
    from finishing.workshops.actions.workshops import first_link

    page.goto(reverse("first-start", args=[first_link().token]))
    page.get_by_label("Your name").fill("Ada Hollow")
    page.get_by_label("Name to sign in with").fill("ada")
    page.get_by_label("Password", exact=True).fill("grit and iron")
    page.get_by_label("Password again").fill("grit and iron")
    page.get_by_label("Workshop's name").fill("Hollow Lane")
    page.get_by_label("Where it stands").fill("95 N, 1,9 W")
    page.get_by_role("button", name="Begin").click()
    assert page.get_by_text("no coordinates on earth").is_visible()
    assert page.evaluate("document.activeElement.name") == "where"
    assert page.get_by_label("Where it stands").input_value() == "95 N, 1,9 W"
    page.get_by_label("Where it stands").fill("Ludl")
    page.locator("#towns option").first.wait_for(state="attached")
    page.get_by_label("Where it stands").fill(page.locator("#towns option").first.get_attribute("value"))
    page.get_by_label("Password", exact=True).fill("grit and iron")
    page.get_by_label("Password again").fill("grit and iron")
    page.get_by_role("button", name="Begin").click()
    assert page.get_by_text("Welcome to Hollow Lane.").is_visible()


def test_the_first_key_leads_past_the_sections(signed_in_page):
    page = signed_in_page
    page.goto(reverse("places"))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.keyboard.press("Enter")
    assert page.url.endswith("#main")


def test_a_second_tap_is_not_a_second_place(signed_in_page, workshop):
    from finishing.workshops.models import Place

    page = signed_in_page
    page.goto(reverse("place-new"))
    page.get_by_label("Name").fill("Den")
    page.get_by_role("button", name="Keep this place").dblclick()
    page.wait_for_url(f"**{reverse('places')}")
    assert Place.objects.of(workshop).filter(name="Den").count() == 1
