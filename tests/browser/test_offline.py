"""No signal in the yard: what was typed and photographed is there again, goes out in order, and arrives once."""

from io import BytesIO

import pytest
from django.urls import reverse
from PIL import Image

from projects.record.models import Photo, Step
from tests import factories

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def piece(workshop, roof, system, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return factories.PieceFactory(part__design__workshop=workshop, part__system=system, place=roof)


@pytest.fixture
def photo():
    held = BytesIO()
    Image.new("RGB", (64, 48), "grey").save(held, "JPEG")
    return {"name": "flange.jpg", "mimeType": "image/jpeg", "buffer": held.getvalue()}


def log_form(page, piece, kind):
    page.goto(f"{reverse('log')}?piece={piece.pk}&kind={kind}")


def chosen(page):
    return page.evaluate("document.querySelector('main [type=file]').files.length")


def test_typed_text_and_a_photo_outlive_a_reload_and_a_form_that_comes_back(signed_in_page, piece, photo):
    page = signed_in_page
    log_form(page, piece, "blasted")
    page.get_by_label("Note").fill("grit in the bore")
    page.get_by_label("Photos").set_input_files(photo)
    page.get_by_label("Humidity").fill("170")
    page.wait_for_timeout(300)
    page.reload()
    page.get_by_text("What was typed here is back").wait_for()
    assert (page.get_by_label("Note").input_value(), chosen(page)) == ("grit in the bore", 1)
    page.get_by_role("button", name="Log: blasted").click()
    page.get_by_text("Must lie between").wait_for()
    assert (page.get_by_label("Note").input_value(), chosen(page)) == ("grit in the bore", 1)
    page.get_by_label("Humidity").fill("70")
    page.get_by_role("button", name="Log: blasted").click()
    page.get_by_text("Logged: blasted").wait_for()
    assert (Step.objects.get().note, Photo.objects.count()) == ("grit in the bore", 1)


def test_entries_without_signal_wait_in_sight_and_arrive_once_in_order(signed_in_page, piece, photo):
    page = signed_in_page
    log_form(page, piece, "noted")
    page.context.set_offline(True)
    for words in ("first", "second"):
        page.get_by_label("Note").fill(words)
        page.get_by_label("Photos").set_input_files(photo)
        page.get_by_role("button", name="Log: note").click()
        page.locator("#outbox li").nth(0 if words == "first" else 1).wait_for()
    assert "2 entries wait" in page.inner_text("#outbox")
    assert not Step.objects.exists()
    page.context.set_offline(False)
    page.locator("#outbox").wait_for(state="detached")
    assert [step.note for step in Step.objects.order_by("entered_at")] == ["first", "second"]
    assert Photo.objects.count() == 2


def test_an_answer_that_is_lost_makes_no_second_entry(signed_in_page, piece):
    page = signed_in_page
    log_form(page, piece, "blasted")
    lose = [True]

    def cut(route):
        if route.request.method == "POST" and lose:
            lose.pop()
            route.fetch()  # it arrives, and its answer does not
            route.abort()
        else:
            route.continue_()

    page.route(f"**{reverse('log')}", cut)
    with page.expect_response(lambda answer: answer.request.method == "POST" and answer.ok):
        page.get_by_role("button", name="Log: blasted").click()
    page.locator("#outbox").wait_for(state="detached")
    assert (lose, Step.objects.count()) == ([], 1)


def test_a_link_to_the_log_without_signal_opens_a_form_that_is_there(signed_in_page, piece):
    page = signed_in_page
    page.goto(reverse("piece", args=[piece.pk]))
    page.context.set_offline(True)
    page.get_by_role("link", name="Log a step").click()
    page.get_by_text("No signal: log it here").wait_for()
    page.locator("#yard-form").get_by_label("What was done").select_option("blasted")
    page.get_by_role("button", name="Keep it until there is signal").click()
    page.get_by_text("1 entry waits").wait_for()
    assert page.evaluate("document.documentElement.classList.contains('outdated')")
    page.context.set_offline(False)
    page.locator("#outbox").wait_for(state="detached")
    step = Step.objects.get()
    assert (step.kind, step.piece) == ("blasted", piece)
