"""Job cards, tags and the handover book, read back from their PDFs."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse

from projects.record.actions.tags import tags_of
from projects.record.domain.tags import tag_address
from projects.record.models import Photo, Step, StoryPage
from tests import factories
from tests.pdfs import codes_in, words_of
from tests.projects.record.test_images import half_red, written

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 12, 9, tzinfo=UTC)
LABELS = {"columns": 3, "rows": 8, "top": 12.9, "left": 7.2, "gap_across": 2.5, "gap_down": 0, "first": 1}


@pytest.fixture(autouse=True)
def _in_may(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def pieces(workshop, roof, system):
    """A flywheel of 40 kg with old paint, and 29 brackets that nobody weighed."""
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design, name="Treadle lathe")
    wheel = factories.PartFactory(design=design, system=system, area=0.6, mask="journals", name="flywheel", mass=40)
    bracket = factories.PartFactory(design=design, system=system, area=0.1, name="bracket", mass=None)
    own = {"project": project, "place": roof}
    return [
        factories.PieceFactory(part=wheel, mark="FW", old_paint=True, **own),
        *(factories.PieceFactory(part=bracket, mark=f"B-{number:02}", **own) for number in range(1, 30)),
    ]


def address(piece):
    return tag_address(tags_of([piece])[0], "http://testserver")


def sent(client, pieces, make, **told):
    chosen = {"make": make, "piece": [piece.pk for piece in pieces], **LABELS, **told}
    return client.post(reverse("project-papers", args=[pieces[0].project_id]), chosen)


def test_a_job_card_says_how_to_lift_it_what_to_mask_and_what_comes_next(helper_client, pieces, owner):
    received = factories.StepFactory(piece=pieces[0], kind=Step.Kind.RECEIVED, by=owner)
    factories.photo_of(received, written(half_red((800, 600))))
    pdf = helper_client.get(reverse("job-card", args=[pieces[0].pk])).content
    (said,) = words_of(pdf)
    for word in ("FW", "flywheel", "40 kg", "Not by hand alone", "Mask: journals", "taken for leaded", "Next: blast"):
        assert word in said
    assert "Heavy or tall pieces. Know the weight before lifting." in said
    assert [code.strip() for code in codes_in(pdf)] == [address(pieces[0])]
    unweighed = helper_client.get(reverse("job-card", args=[pieces[1].pk])).content
    assert "weight not known Not weighed: lift it as if it were heavy." in words_of(unweighed)[0]


def test_two_cards_lie_on_a_sheet_and_tags_fill_sheets_of_labels_and_every_code_is_read_back(owner_client, pieces):
    two = sent(owner_client, pieces[:3], "cards on A4").content
    assert len(words_of(two)) == 2
    assert sorted(codes_in(two)) == sorted(address(piece) for piece in pieces[:3])
    tags = sent(owner_client, pieces, "tags").content
    assert len(words_of(tags)) == 2  # 24 labels a sheet
    assert sorted(codes_in(tags)) == sorted(address(piece) for piece in pieces)
    begun = sent(owner_client, pieces, "tags", first=20).content
    assert len(words_of(begun)) == 3  # 5 on the sheet used before, 24, and the last
    assert (
        'name="columns" value="3"'
        in owner_client.get(reverse("project-papers", args=[pieces[0].project_id])).content.decode()
    ), "the sheet of labels is laid out as last time"


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"columns": 6, "left": 40}, "columns"),
        ({"rows": 18, "top": 60}, "rows"),
        ({"first": 25}, "first"),
        ({"top": "wide"}, "top"),
        ({"piece": []}, "piece"),
    ],
)
def test_labels_that_cannot_be_are_told_at_their_box(owner_client, pieces, told, field):
    answer = sent(owner_client, pieces[:1], "tags", **told)
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]


def test_the_handover_book_tells_each_coat_with_its_air_batch_and_film_and_what_may_go_over_it(
    guest_client, owner, pieces, workshop, system
):
    wheel, machine = pieces[0], factories.MachineFactory(project=pieces[0].project, number="1")
    wheel.machine = machine
    wheel.save()
    coat = system.coats[-1]
    at = NOW - timedelta(days=3)
    factories.StepFactory(piece=wheel, kind=Step.Kind.BLASTED, by=owner, happened_at=at - timedelta(hours=3))
    factories.StepFactory(
        piece=wheel, kind=Step.Kind.COATED, by=owner, happened_at=at, layer=coat, layer_label=coat.label,
        coating=coat.coating, batch="B 77", air_temperature=20, humidity=50, surface_temperature=18, dry_film=44,
        verdict=Step.Verdict.INSIDE,
    )  # fmt: skip
    page = " ".join(guest_client.get(reverse("handover", args=[machine.pk])).content.decode().split())
    pdf = guest_client.get(reverse("handover-pdf", args=[machine.pk])).content
    said = " ".join(words_of(pdf))
    # 20 °C and 50 %: dew point 9.3 °C in a published table
    sentence = "batch B 77, in air of 20 °C and 50 %, the metal at 18 °C, 8.7 °C above the dew point. The film measured"
    for told in (page, said):
        assert all(word in told for word in (sentence, "44 µm dry", "flywheel", "as first drawn", "To touch it up"))
    assert f"Over {coat.coating}" in said
    assert "Pressure parts, guards and brakes" in said
    assert workshop.currency not in said


def test_the_handover_book_has_the_story_and_the_film_but_nothing_kept_back(guest_client, owner, pieces, system):
    wheel, machine = pieces[0], factories.MachineFactory(project=pieces[0].project, number="1")
    wheel.machine = machine
    wheel.save()
    on = NOW - timedelta(days=3)
    factories.StepFactory(piece=wheel, kind=Step.Kind.BLASTED, by=owner, happened_at=on - timedelta(hours=3))
    layer = system.coats[0]
    coat = factories.StepFactory(
        piece=wheel, kind=Step.Kind.COATED, by=owner, happened_at=on, layer=layer, coating=layer.coating
    )
    shown, kept_back = (factories.photo_of(coat, factories.grey_photo()) for _ in range(2))
    Photo.objects.filter(pk=shown.pk).update(stage="primed", caption="rim after the primer")
    Photo.objects.filter(pk=kept_back.pk).update(stage="primed", caption="crack at the hub", kept_back=True)
    StoryPage.objects.create(
        workshop=wheel.workshop, project=wheel.project, stage="primed", words="Grey from the first day.", shared=True
    )
    StoryPage.objects.create(workshop=wheel.workshop, project=wheel.project, stage="found", words="Draft.")
    for spot, reading in (("hub", 85), ("rim", 105)):
        factories.FilmReadingFactory(piece=wheel, by=owner, spot=spot, reading=reading, asked=70)
    factories.steady_forecast(wheel.workshop, NOW - timedelta(days=10))
    page = " ".join(guest_client.get(reverse("handover", args=[machine.pk])).content.decode().split())
    said = " ".join(words_of(guest_client.get(reverse("handover-pdf", args=[machine.pk])).content))
    for told in (page, said):
        assert "Its story" in told
        assert "Grey from the first day." in told
        assert "rim after the primer" in told
        assert "Draft." not in told
        assert "crack at the hub" not in told
    assert str(kept_back.pk) not in page
    # films of 60 and 80 µm over the peaks, 70 asked
    assert "read at 2 spots, corrected for the profile: 70 µm on average where 70 µm is asked, spread 14 µm" in said
    assert "the thinnest spot, hub, has 60 µm, and 1 of 2 (50 %) lie below what is asked. Too thin in places" in said
    # 6 h at 20 °C from 12 May 2026 less three days, 10:00 on the workshop's clock
    assert "last coat on 9 May 2026, 10:00; another from 9 May 2026, 16:00 (by the air that it dried in)" in said
