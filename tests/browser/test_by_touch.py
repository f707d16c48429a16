"""From the spanner to the handed-over machine on a phone, by touch alone: parts come off by camera, a photo is found
again, the machine goes back together, its film is mapped, colours are tried out and asked for, its book is fetched."""

import base64
from datetime import timedelta
from io import BytesIO

import pytest
from django.urls import reverse
from django.utils import timezone
from PIL import Image, ImageDraw

from projects.lettering.images import BODY, LETTERS, NOTHING
from projects.record.models import Candidate, ColourReply, FilmReading, Fitting, Photo, Removal, Step, TryOut
from projects.record.models.photos import Chapter
from tests import factories
from tests.pdfs import words_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PARTS = ("flywheel", "crank", "base", "guard", "nameplate")
GREEN, CREAM = (47, 93, 58), (230, 207, 143)


@pytest.fixture
def phone(chromium, live_server, owner_client):
    """The owner's, signed in: it is tapped, and never hovered over or clicked."""
    context = chromium.new_context(
        base_url=live_server.url, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    session = owner_client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    context.close()
    assert not faults, faults


@pytest.fixture
def machine(workshop, owner, roof, system, settings, tmp_path):
    """A press of five parts, one of them its nameplate, and a photo of it that no entry shows."""
    settings.MEDIA_ROOT = tmp_path
    machine = factories.MachineFactory(project__design__workshop=workshop, number="1")
    design, project = machine.project.design, machine.project
    for name in PARTS:
        letters = {"nameplate": True, "lettering": "LOWER MILL", "letter_height": 30} if name == "nameplate" else {}
        part = factories.PartFactory(design=design, name=name, system=system, **letters)
        factories.PieceFactory(part=part, project=project, mark=name[:2].upper(), place=roof)
    factories.WordingFactory(part=part, by=owner)
    factories.photo_of_machine(machine, photographed())
    return machine


def photographed() -> bytes:
    """A painted face on a bench, with cast letters of another colour, lit from the left."""
    picture = Image.new("RGB", (900, 600), (120, 116, 110))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((150, 120, 750, 480), fill=GREEN)
    for place in range(5):
        draw.rectangle((220 + 100 * place, 220, 265 + 100 * place, 380), fill=CREAM)
    light = Image.linear_gradient("L").rotate(90).resize(picture.size)
    shaded = Image.composite(picture, Image.eval(picture, lambda value: value // 2), light)
    sent = BytesIO()
    shaded.save(sent, "JPEG", quality=92)
    return sent.getvalue()


def test_a_machine_is_taken_apart_found_again_put_together_and_handed_over(phone, machine, owner):
    strip_down(phone, machine)
    find_the_photo(phone, machine)
    refit(phone, machine)
    paint(machine, owner)
    map_the_film(phone, machine)
    try_colours(phone, machine)
    share_the_sheet(phone)
    hand_over(phone, machine)


def strip_down(phone, machine):
    """Photo, tag, where it came off, bag, what was found: five times."""
    phone.goto(reverse("project", args=[machine.project_id]))
    phone.get_by_role("link", name="Strip-down").first.tap()
    phone.get_by_role("heading", name="Strip-down").wait_for()
    for number, name in enumerate(PARTS, start=1):
        phone.locator("[name=photos]").set_input_files(camera(name))
        phone.get_by_label("Which part").select_option(label=f"{name}, {name[:2].upper()}")
        assert phone.get_by_label("Tag number").input_value() == str(number)
        phone.get_by_label("Where it came off").fill(f"behind the {name}")
        phone.get_by_text("Bag of fixings").tap()
        phone.locator("[name=count_1]").fill("4")
        phone.locator("[name=what_1]").fill("hexagon bolts")
        phone.locator("[name=size_1]").fill("M8 × 30")
        phone.get_by_text("What was found, and its repair").tap()
        phone.get_by_label("Found").select_option("broken" if name == "guard" else "sound")
        if name == "guard":
            phone.get_by_label("Repair").select_option("brazed")
            phone.get_by_label("It may take, own hands").fill("90")
        phone.get_by_role("button", name="It is off").tap()
        phone.get_by_text(f"Off, tag {number}: {name}").wait_for()
    assert Removal.objects.count() == Step.objects.filter(kind="taken off").count() == len(PARTS)
    assert Photo.objects.filter(step__kind="taken off").count() == len(PARTS)
    assert {str(removal.bag[0]) for removal in Removal.objects.all()} == {"4 × hexagon bolts M8 × 30"}
    assert Step.objects.get(repair="brazed").piece.mark == "GU"


def find_the_photo(phone, machine):
    """By a word, in the search over everything and in the album."""
    phone.goto(reverse("album", args=[machine.project_id]))
    phone.get_by_text("Find a photo").tap()
    phone.get_by_label("Words, mark or tag").fill("crank")
    phone.get_by_role("button", name="Find").tap()
    phone.get_by_text("1 photo found").wait_for()
    phone.locator(".tiles a").tap()
    phone.get_by_role("heading", name="CR").wait_for()
    phone.get_by_label("Caption").fill("oil way of the crank")
    phone.get_by_role("button", name="Keep it").tap()
    phone.get_by_text("Noted.").wait_for()
    assert Photo.objects.get(caption="oil way of the crank").stage == Chapter.APART


def refit(phone, machine):
    """What came off last goes back first."""
    phone.goto(reverse("refit", args=[machine.pk]))
    shown = phone.locator(".refit-list > li b:nth-of-type(2)").all_inner_texts()
    assert [words for words in shown if words in PARTS] == list(reversed(PARTS))
    for left in range(len(PARTS) - 1, -1, -1):
        phone.get_by_role("button", name="It is back").first.tap()
        phone.get_by_text(f"{left} of 5 still to go back" if left else "All is back").first.wait_for()
    assert Fitting.objects.exclude(piece=None).count() == len(PARTS)


def paint(machine, owner):
    """Blasted and coated meanwhile; the log by phone has a test of its own."""
    now = timezone.now()
    for piece in machine.project.pieces.select_related("part__system"):
        own = {"piece": piece, "by": owner}
        factories.StepFactory(kind=Step.Kind.BLASTED, happened_at=now - timedelta(minutes=5), **own)
        for ago, layer in zip((4, 3, 2), piece.part.system.coats, strict=True):
            at = now - timedelta(minutes=ago)
            factories.StepFactory(kind=Step.Kind.COATED, layer=layer, coating=layer.coating, happened_at=at, **own)


def map_the_film(phone, machine):
    """Two taps on the photo, and the thinner one is named."""
    phone.goto(reverse("film", args=[machine.project.pieces.get(mark="FL").pk]))
    for across, down, reading, spot in ((0.3, 0.4, "260", "rim"), (0.7, 0.6, "130", "hub, left")):
        tap_at(phone, phone.locator("[data-pin]"), across, down)
        phone.get_by_label("The gauge reads").fill(reading)
        phone.locator("[name=spot]").fill(spot)
        phone.get_by_role("button", name="Note it").tap()
        phone.get_by_role("rowheader", name=spot).wait_for()
    first, second = FilmReading.objects.order_by("read_at")
    assert (round(first.across), round(first.down), round(second.across), round(second.down)) == (30, 40, 70, 60)
    assert phone.locator(".pin").count() == 2
    assert "the thinnest spot is hub, left" in phone.locator(".verdict").inner_text()


def try_colours(phone, machine):
    """The face brushed by finger, its letters by tone, then the letters by finger too; two candidates side by side."""
    plate = machine.project.design.parts.get(name="nameplate")
    phone.goto(reverse("letters", args=[plate.pk]))
    phone.get_by_role("link", name="Try colours on a photo").tap()
    phone.locator(".pick-photo").first.tap()
    phone.get_by_role("button", name="Try colours on it").tap()
    canvas = phone.locator("canvas")
    canvas.wait_for()
    for down in (0.3, 0.4, 0.5, 0.6, 0.7):
        drag(phone, canvas, (0.2, down), (0.8, down))
    slow = []  # the kept marks do not come before the next ones are brushed and sent
    phone.route("**/marks.png", lambda route: slow.append(route))
    keep_the_marks(phone)
    assert inks(TryOut.objects.get()) == {NOTHING, BODY}
    phone.get_by_label("letters", exact=True).check()
    drag(phone, canvas, (0.27, 0.4), (0.27, 0.6))
    phone.get_by_label("Letters in the photo are").select_option("brushed")
    keep_the_marks(phone, then=lambda: [route.continue_() for route in slow])
    assert inks(TryOut.objects.get()) == {NOTHING, BODY, LETTERS}
    phone.unroute_all(behavior="ignoreErrors")
    phone.get_by_label("Letters in the photo are").select_option("lighter")
    keep_the_marks(phone)
    for letters, body in (("#e6cf8f", "#2f5a44"), ("#c8a02c", "#26364a")):
        phone.get_by_label("Or letters by value").fill(letters)
        phone.locator("[name=body]").fill(body)
        phone.get_by_role("button", name="See it").tap()
        phone.get_by_role("heading", name=letters).wait_for()
    pictures = phone.locator(".candidates img")
    assert pictures.count() == Candidate.objects.count() == 2
    for place in range(2):
        pictures.nth(place).scroll_into_view_if_needed()
        phone.wait_for_function(
            "place => document.querySelectorAll('.candidates img')[place].naturalWidth > 0", arg=place
        )


def keep_the_marks(phone, then=lambda: None):
    with phone.expect_navigation(wait_until="domcontentloaded"):
        phone.get_by_role("button", name="Keep the marks").tap()
        then()
    phone.locator("#candidates").wait_for()


def inks(try_out):
    return {ink for _, ink in Image.open(BytesIO(base64.b64decode(try_out.mask))).getcolors()}


def share_the_sheet(phone):
    """The customer answers at an address, and the workshop reads it beside the candidates."""
    phone.get_by_role("button", name="Make an address to share").tap()
    address = phone.locator("#sheet-address").input_value()
    customer = phone.context.browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    sheet = customer.new_page()
    sheet.goto(address)
    sheet.get_by_label("Which one").select_option(label="#c8a02c")
    sheet.get_by_label("In words").fill("The dark one, please.")
    sheet.get_by_label("Who says so").fill("Ida")
    sheet.get_by_role("button", name="Send it").tap()
    sheet.get_by_text("your answer is noted").wait_for()
    customer.close()
    phone.reload()
    assert phone.get_by_text("The dark one, please.").is_visible()
    assert ColourReply.objects.get().candidate.letters == "#c8a02c"
    phone.locator(".candidates li", has_text="#c8a02c").get_by_role("button", name="Choose it").tap()
    phone.get_by_text("is chosen").wait_for()


def hand_over(phone, machine):
    phone.goto(reverse("machine", args=[machine.pk]))
    phone.get_by_role("link", name="Handover book").tap()
    book = phone.request.get(phone.get_by_role("link", name="PDF").get_attribute("href")).body()
    said = " ".join(words_of(book))
    assert all(name in said for name in PARTS)


def camera(name):
    """As the phone's camera hands a photo to the box."""
    return {"name": f"{name}.jpg", "mimeType": "image/jpeg", "buffer": photographed()}


def tap_at(phone, thing, across, down):
    thing.scroll_into_view_if_needed()
    box = thing.bounding_box()
    thing.tap(position={"x": box["width"] * across, "y": box["height"] * down})


def drag(phone, thing, begin, end, steps=8):
    """A finger over the glass, from and to a share of the thing's width and height."""
    thing.scroll_into_view_if_needed()
    box, touch = thing.bounding_box(), phone.context.new_cdp_session(phone)

    def at(share):
        return [
            {
                "x": box["x"] + box["width"] * (begin[0] + share * (end[0] - begin[0])),
                "y": box["y"] + box["height"] * (begin[1] + share * (end[1] - begin[1])),
            }
        ]

    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": at(0)})
    for step in range(1, steps + 1):
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": at(step / steps)})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    touch.detach()
