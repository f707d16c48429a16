"""In a browser: the answer follows what is typed, and the address with it."""

import re

import pytest

expect = pytest.importorskip("playwright.sync_api").expect

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_answer_follows_the_typing_and_the_address_can_be_sent(page):
    page.goto("/calculators/dew-point/")
    expect(page.locator("#answer")).to_contain_text("The answer comes here.")
    for name, typed in {"temperature": "18", "humidity": "70", "metal": "14"}.items():
        page.fill(f"[name={name}]", typed)
    expect(page.locator("#answer")).to_contain_text("No.")
    page.fill("[name=metal]", "17")
    expect(page.locator("#answer")).to_contain_text("Yes.")
    expect(page).to_have_url(re.compile("metal=17"))
    page.reload()
    expect(page.locator("#answer")).to_contain_text("Yes.")


def test_a_wrong_box_is_told_while_typing_and_at_the_box_when_sent(page):
    page.goto("/calculators/dew-point/")
    page.fill("[name=temperature]", "18")
    page.fill("[name=humidity]", "170")
    expect(page.locator("#answer")).to_contain_text("Humidity of the air: Must lie between")
    page.click("text=Work it out")
    expect(page.locator(".field.wrong")).to_contain_text("Must lie between")


def test_a_picked_colour_writes_its_code(signed_in_page):
    signed_in_page.goto("/coatings/new/")
    signed_in_page.locator("[data-fills=id_colour]").fill("#aa3300")
    expect(signed_in_page.locator("[name=colour]")).to_have_value("#aa3300")
