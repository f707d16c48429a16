"""The letters of a part: size and paint, when they may be begun, and what a nameplate says."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse

from projects.record.models import Order, Part, Step, Wording
from tests import cost_factories as costs
from tests import factories

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 12, 9, tzinfo=UTC)


def read(client, part):
    return " ".join(client.get(reverse("letters", args=[part.pk])).content.decode().split())


def test_faces_and_paint_are_worked_out_and_stand_on_the_paint_list(restorer_client, workshop, system, enamel):
    """15 letters of 40 mm: 15·0.4·40·30 mm² = 72 cm²."""
    enamel.dry_film, enamel.volume_solids = 40, 45
    enamel.save()
    part = factories.PartFactory(
        design__workshop=workshop, system=system, lettering="THACKWELL & DRUCE", lettering_coating=enamel
    )
    piece = factories.PieceFactory(part=part, project__design=part.design)
    assert "Say how high a capital is" in read(restorer_client, part)
    part.letter_height, part.letter_relief = 40, 1
    part.save()
    page = read(restorer_client, part)
    assert "72 cm²" in page
    # by hand: 72 cm² · 40 µm / 45 % / (1 − 20 %) = 0.8 mL
    assert 'One coat takes</dt><dd class="number">0.8 mL' in page
    assert "usually stand 1.5 to 3 mm proud" in page
    assert "Common practice" in page
    paints = restorer_client.get(reverse("paint-list", args=[piece.project_id]) + "?layers=all").content.decode()
    assert 'one coat takes <b class="number">0.8 mL' in " ".join(paints.split())
    part.letter_stroke = 6
    part.save()
    assert "79.2 cm²" in read(restorer_client, part)
    assert reverse("letters", args=[part.pk]) in restorer_client.get(reverse("part", args=[part.pk])).content.decode()


def test_brush_and_tape_wait_for_the_last_coat_through_the_weather(
    restorer_client, workshop, owner, roof, system, enamel
):
    """Its recoat time of 6 h at 20 °C stands for 24 h of wait before the brush and 48 h before tape: in a steady 20 °C
    and 50 % they are over after just that."""
    enamel.letters_after, enamel.tape_after = 24, 48
    enamel.save()
    part = factories.PartFactory(design__workshop=workshop, system=system, lettering="WREN", lettering_coating=enamel)
    piece = factories.PieceFactory(part=part, project__design=part.design, place=roof)
    with time_machine.travel(NOW, tick=False):
        factories.steady_forecast(workshop, NOW - timedelta(days=6), temperature=20.0, humidity=50.0)
        own = {"piece": piece, "by": owner}
        factories.StepFactory(kind=Step.Kind.BLASTED, happened_at=NOW - timedelta(hours=60), **own)
        for ago, layer in zip((50, 30, 3), system.coats, strict=True):
            at = NOW - timedelta(hours=ago)
            factories.StepFactory(kind=Step.Kind.COATED, layer=layer, coating=layer.coating, happened_at=at, **own)
        page = read(restorer_client, part)
    assert "bears a brush from <b>tomorrow" in page
    assert "tape from <b>" in page
    enamel.tape_after = None
    enamel.save()
    with time_machine.travel(NOW, tick=False):
        assert "the sheet does not say when it bears tape" in read(restorer_client, part)


@pytest.fixture
def nameplate(workshop):
    return factories.PartFactory(design__workshop=workshop, name="nameplate", nameplate=True)


def propose(client, part, words, **more):
    return client.post(reverse("wording-new", args=[part.pk]), {"id": str(uuid.uuid4()), "words": words, **more})


def test_a_nameplate_has_versions_of_which_one_is_chosen(restorer_client, helper_client, nameplate):
    propose(restorer_client, nameplate, "LOWER MILL\r\n  No. 3 ")
    propose(restorer_client, nameplate, "LOWER MILL", note="the museum asked")
    assert propose(restorer_client, nameplate, "LOWER MILL").status_code == 422
    assert propose(restorer_client, nameplate, "A" * 99 + "\nB").status_code == 422
    assert "No wording is chosen" in read(helper_client, nameplate)
    first, second = Wording.objects.order_by("made_at")
    assert helper_client.post(reverse("wording-choose", args=[first.pk])).status_code == 403
    restorer_client.post(reverse("wording-choose", args=[first.pk]))
    nameplate.refresh_from_db()
    assert (nameplate.lettering, nameplate.letters, nameplate.wording) == ("LOWER MILL / No. 3", 13, first)
    restorer_client.post(reverse("wording-choose", args=[second.pk]))
    nameplate.refresh_from_db()
    assert nameplate.lettering == "LOWER MILL"
    assert Wording.objects.count() == 2
    edit = reverse("part-edit", args=[nameplate.pk])
    form = restorer_client.get(edit).context["form"]
    typed = {"name": "nameplate", "quantity": 1, "nameplate": "on", "material": "brass", "way": "typed"}
    assert form.fields["lettering"].disabled
    restorer_client.post(edit, typed | {"lettering": "MILL"})  # as no browser sends it
    assert Part.objects.get(pk=nameplate.pk).lettering == "LOWER MILL"
    restorer_client.post(edit, typed)
    nameplate.refresh_from_db()
    assert (nameplate.material, nameplate.lettering) == ("brass", "LOWER MILL")


def test_a_casting_ordered_without_a_wording_is_warned_of_and_one_with_it_carries_it(owner_client, nameplate):
    casting = costs.OperationFactory(part=nameplate, process="casting")
    supplier = costs.SupplierFactory(workshop=nameplate.workshop)
    address = reverse("order-new", args=[nameplate.design_id])
    rows = {
        "operation": casting.pk,
        "quantity": "1",
        "pieces_cost": "40",
        "setup": "0",
        "tooling": "0",
        "delivery": "0",
    }

    def order(**more):
        sent = {f"lines-0-{name}": value for name, value in (rows | more).items()}
        sent |= {"lines-TOTAL_FORMS": "1", "lines-INITIAL_FORMS": "0", "id": str(uuid.uuid4()), "place": "1"}
        day = datetime.now(UTC).date().isoformat()
        return owner_client.post(address, sent | {"supplier": supplier.pk, "ordered_on": day, "delivery": "0"})

    assert "no wording is chosen. Choose one under its letters" in order().content.decode()
    assert not Order.objects.exists()
    order(reason="cast blank, to be engraved")
    blank = Order.objects.get()
    assert blank.lines.get().wording is None
    wording = factories.WordingFactory(part=nameplate)
    told = owner_client.post(reverse("wording-choose", args=[wording.pk]), follow=True).content.decode()
    assert "It is ordered without words" in told
    order()
    line = Order.objects.exclude(pk=blank.pk).get().lines.get()
    assert line.wording == wording
    assert "LOWER MILL / No. 3" in owner_client.get(reverse("order-sheet", args=[line.order_id])).content.decode()
