"""Log a step: one form for one piece or a rack."""

import uuid
from datetime import UTC, datetime, timedelta
from io import BytesIO

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from projects.record.models import Photo, Piece, Step
from tests import factories

pytestmark = pytest.mark.django_db
TEN = datetime(2026, 5, 12, 9, tzinfo=UTC)  # a Tuesday, ten o'clock in summer time


@pytest.fixture(autouse=True)
def _at_ten():
    with time_machine.travel(TEN, tick=False):
        yield


@pytest.fixture
def rack(workshop, roof, system):
    """Two bare pieces, the second of three times the area."""
    factories.steady_forecast(workshop, TEN - timedelta(days=3))
    design = factories.DesignFactory(workshop=workshop)
    parts = [factories.PartFactory(design=design, system=system, area=area) for area in (0.5, 1.5)]
    project = factories.ProjectFactory(design=design)
    pieces = [factories.PieceFactory(part=part, project=project, place=roof) for part in parts]
    for piece in pieces:
        factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN - timedelta(hours=1))
    return pieces


def form(rack, kind="coated", **facts):
    typed = {"key": str(uuid.uuid4()), "kind": kind, "happened_at": "2026-05-12T10:00"}
    return {**typed, "pieces": [piece.pk for piece in rack], **facts}


def fine(rack, **facts):
    seen = {"air_temperature": "20", "humidity": "55", "surface_temperature": "19", "place": rack[0].place_id}
    return form(rack, **{**seen, **facts})


def post(client, data):
    return client.post(reverse("log"), data)


def entries(kind):
    return Step.objects.filter(kind=kind).order_by("piece__part__area")


def test_it_logs_one_entry_a_piece(helper_client, rack):
    response = post(helper_client, fine(rack, batch="L 2217"))
    assert response.status_code == 302
    assert [step.batch for step in entries("coated")] == ["L 2217"] * 2
    assert [step.verdict for step in entries("coated")] == ["inside"] * 2
    assert [step.layer_position for step in entries("coated")] == [1, 1]


def test_minutes_and_paint_are_shared_by_area(helper_client, rack):
    post(helper_client, fine(rack, minutes="40", litres="0.4"))
    assert [step.minutes.magnitude for step in entries("coated")] == [10, 30]
    assert [step.litres.magnitude for step in entries("coated")] == pytest.approx([0.1, 0.3])


def test_the_same_form_twice_is_one_entry(helper_client, rack):
    data = fine(rack)
    post(helper_client, data)
    post(helper_client, data)
    assert entries("coated").count() == 2


def test_unknown_conditions_are_not_checked(helper_client, rack):
    assert post(helper_client, form(rack)).status_code == 302
    assert {step.verdict for step in entries("coated")} == {"not checked"}


def test_outside_asks_for_a_reason_and_keeps_what_was_typed(helper_client, rack):
    response = post(helper_client, fine(rack, humidity="91", note="drizzle near"))
    assert response.status_code == 422
    assert "say why" in response.content.decode()
    assert 'value="91"' in response.content.decode()
    assert "drizzle near" in response.content.decode()
    assert not entries("coated").exists()


def test_outside_with_a_reason_stays_marked(helper_client, rack):
    post(helper_client, fine(rack, humidity="91", reason="taken in to dry"))
    step = entries("coated").first()
    assert (step.verdict, step.reason) == ("outside", "taken in to dry")
    assert step.outside.startswith("humidity 91 %, at most 85 % allowed")


def test_a_coat_on_cold_metal_is_outside_though_the_air_is_fine(helper_client, rack):
    """20 °C and 55 %: dew point 10.7 °C (published table), so 12 °C metal has 1.3 °C of 3."""
    response = post(helper_client, fine(rack, surface_temperature="12"))
    assert "1.3 °C above the dew point" in response.content.decode()


def test_a_coat_too_soon_is_outside(helper_client, rack):
    post(helper_client, fine(rack, happened_at="2026-05-12T09:30"))
    response = post(helper_client, fine(rack))
    assert "too soon over the last coat" in response.content.decode()


def test_it_refuses_to_coat_what_was_never_blasted(helper_client, rack):
    raw = factories.PieceFactory(part=rack[0].part, project=rack[0].project, place=rack[0].place)
    response = post(helper_client, fine([*rack, raw]))
    assert "log the blasting first" in response.content.decode()
    assert not entries("coated").exists()


def test_it_refuses_a_time_ahead(helper_client, rack):
    response = post(helper_client, fine(rack, happened_at="2026-05-12T18:00"))
    assert "That lies ahead" in response.content.decode()


@pytest.mark.parametrize(
    ("box", "typed"),
    [("humidity", "130"), ("air_temperature", "400"), ("minutes", "-5"), ("wet_film", "ten"), ("happened_at", "soon")],
)
def test_bad_input_is_told_at_its_box(helper_client, rack, box, typed):
    response = post(helper_client, fine(rack, **{box: typed}))
    assert response.status_code == 422
    assert box in response.context["form"].errors
    assert typed in response.content.decode()
    assert not entries("coated").exists()


def test_a_photo_is_kept_with_every_piece_of_the_rack(helper_client, rack, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    picture = BytesIO()
    Image.new("RGB", (60, 40), "grey").save(picture, "JPEG")
    photo = SimpleUploadedFile("yard.jpg", picture.getvalue())
    post(helper_client, fine(rack, photos=photo))
    assert Photo.objects.count() == 2
    assert len(list(tmp_path.glob("photos/*"))) == 1


def test_what_is_no_photo_is_refused_with_a_word(helper_client, rack):
    response = post(helper_client, fine(rack, photos=SimpleUploadedFile("yard.jpg", b"not a picture")))
    assert "This is not a photo" in response.content.decode()


def test_a_move_needs_its_place(helper_client, rack):
    response = post(helper_client, form(rack, kind="moved"))
    assert "Say where it went" in response.content.decode()


def test_the_boxes_begin_with_the_fresh_reading(helper_client, rack, roof):
    factories.ReadingFactory(place=roof, taken_at=TEN - timedelta(minutes=20), temperature=17.5, humidity=61)
    response = helper_client.get(reverse("log"), {"piece": rack[0].pk, "kind": "coated"})
    assert 'value="17.5"' in response.content.decode()


def test_an_old_reading_is_not_offered(helper_client, rack, roof):
    factories.ReadingFactory(place=roof, taken_at=TEN - timedelta(hours=5), temperature=17.5, humidity=61)
    response = helper_client.get(reverse("log"), {"piece": rack[0].pk, "kind": "coated"})
    assert 'value="17.5"' not in response.content.decode()


def test_the_verdict_comes_as_you_type(helper_client, rack):
    response = helper_client.post(reverse("log-verdict"), fine(rack, humidity="91"), headers={"HX-Request": "true"})
    assert "outside" in response.content.decode()
    assert "<html" not in response.content.decode()


def test_without_pieces_it_asks_which(helper_client, rack):
    response = helper_client.get(reverse("log"))
    assert rack[0].mark in response.content.decode()


def test_a_guest_may_not_log(guest_client, rack):
    assert post(guest_client, fine(rack)).status_code == 403


def test_a_stranger_finds_no_piece_of_this_workshop(stranger_client, rack):
    response = post(stranger_client, fine(rack))
    assert response.status_code == 422
    assert not entries("coated").exists()


def test_of_many_pieces_those_lie_open_that_the_entry_may_be_for(helper_client, rack):
    part, project = rack[0].part, rack[0].project
    raw = [factories.PieceFactory(part=part, project=project, place=rack[0].place) for _ in range(9)]
    heaps = helper_client.get(reverse("log"), {"kind": "blasted"}).context["heaps"]
    by_mark = [sorted(pieces, key=lambda piece: piece.mark) for pieces in (raw, rack)]
    assert [heap.pieces for heap in heaps] == by_mark
    assert [(heap.stage, heap.open) for heap in heaps] == [("raw", True), ("blasted", False)]


def test_few_pieces_all_lie_open_and_no_kind_of_entry_is_said_for_them(helper_client, rack):
    page = helper_client.get(reverse("log"))
    assert [heap.open for heap in page.context["heaps"]] == [True]
    assert "All 2 of these" in page.content.decode()
    assert 'name="kind"' not in page.content.decode()


def test_voiding_adds_an_entry_and_changes_none(restorer_client, rack):
    step = rack[0].steps.get()
    restorer_client.post(reverse("step-void", args=[step.pk]), {"reason": "wrong piece"})
    restorer_client.post(reverse("step-void", args=[step.pk]), {"reason": "wrong piece"})
    assert Step.objects.get(voids=step).reason == "wrong piece"
    assert Step.objects.filter(pk=step.pk, kind="blasted").exists()


def test_what_was_voided_is_named_by_the_workshops_day_and_clock(restorer_client, rack):
    step = rack[0].steps.get()
    page = restorer_client.post(reverse("step-void", args=[step.pk]), {"reason": "wrong piece"}, follow=True)
    assert "Voided: blasted, 12 May 2026 09:00." in page.content.decode()


def test_other_work_is_logged_at_any_stage_and_changes_nothing_else(helper_client, rack):
    raw = factories.PieceFactory(part=rack[0].part, project=rack[0].project, place=rack[0].place)
    pieces = [raw, *rack]
    before = [states(piece) for piece in pieces]
    assert post(helper_client, form(pieces, kind="worked", work="fettling", minutes="50")).status_code == 302
    assert sorted(step.minutes.magnitude for step in entries("worked")) == [10, 10, 30]  # by area
    assert [states(piece) for piece in pieces] == before
    shown = helper_client.get(reverse("piece", args=[raw.pk])).content.decode()
    assert "<b>Fettling</b>" in shown


def states(piece):
    found = Piece.objects.with_log().get(pk=piece.pk).state
    return found.stage, found.next, found.coming, found.bare_since, found.last_step


def test_other_work_asks_which_and_how_long(helper_client, rack):
    response = post(helper_client, form(rack, kind="worked", note="before the pour"))
    shown = response.content.decode()
    assert response.status_code == 422
    assert "Say which work it was." in shown
    assert "Say how long it took" in shown
    assert "before the pour" in shown
    assert not entries("worked").exists()


def test_work_that_there_is_not_is_told_at_its_box(helper_client, rack):
    response = post(helper_client, form(rack, kind="worked", work="juggling", minutes="5"))
    assert response.status_code == 422
    assert "juggling is not one of the available choices" in response.content.decode()


def test_only_that_kind_asks_which_work(helper_client, rack):
    def boxes(kind):
        return helper_client.get(reverse("log"), {"kind": kind, "piece": rack[0].pk}).content.decode()

    assert 'name="work"' in boxes("worked")
    assert "as the sheet asks" not in boxes("worked")
    assert 'name="work"' not in boxes("coated")


def test_other_work_can_be_taken_back(helper_client, rack):
    post(helper_client, form(rack[:1], kind="worked", work="masking", minutes="5"))
    step = entries("worked").get()
    asked = helper_client.get(reverse("step-void", args=[step.pk])).content.decode()
    assert ": masking, 12 May 2026" in asked
    helper_client.post(reverse("step-void", args=[step.pk]), {"reason": "another piece"})
    assert entries("voided").get().voids == step
