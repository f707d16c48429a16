"""Coatings: looked at by everybody of the workshop, changed by who plans, and never half-kept."""

import uuid

import pytest
from django.urls import reverse

from finishing.coatings.models import Coating
from finishing.library.actions import load_library
from tests import factories
from tests.finishing.calculators.views.rough import rough_answers

pytestmark = pytest.mark.django_db

ROWS = {"drying": 4, "tins": 3, "additives": 2, "pot_life": 3}


def sheet(**changes):
    """A sheet as the page sends it: an alkyd enamel with two rows of drying and one tin."""
    counts = {f"{name}-TOTAL_FORMS": count for name, count in ROWS.items()}
    counts |= {f"{name}-INITIAL_FORMS": 0 for name in ROWS}
    values = {
        "id": str(uuid.uuid4()), "name": "green enamel", "generic_type": "alkyd enamel", "colour": "#2f5d3a",
        "volume_solids": "45", "dry_film": "35", "thinning": "5", "temperature_min": "5", "temperature_max": "35",
        "humidity_max": "85", "margin": "3", "sheet_humidity": "50", "source": "sheet of May 2026",
        "drying-0-temperature": "10", "drying-0-touch": "10", "drying-0-recoat_from": "30",
        "drying-1-temperature": "23", "drying-1-touch": "5", "drying-1-recoat_from": "15",
        "tins-0-litres": "2.5", "tins-0-price": "41,50",
    }  # fmt: skip
    return {**counts, **values, **changes}


def test_the_list_shows_the_library_and_ones_own(restorer_client, workshop, enamel, other_workshop):
    load_library(workshop)
    factories.CoatingFactory(workshop=other_workshop, name="their blue")
    page = restorer_client.get(reverse("coatings")).content.decode()
    assert "green enamel" in page
    assert "Polyurethane topcoat" in page
    assert "their blue" not in page


def test_a_visitor_is_asked_to_sign_in(client):
    assert client.get(reverse("coatings")).status_code == 302


def test_each_library_sheet_shows_values_basis_cautions_and_working(guest_client, workshop):
    load_library(workshop)
    for coating in Coating.objects.of(workshop):
        page = guest_client.get(reverse("coating", args=[coating.pk])).content.decode()
        assert "starting library" in page
        assert "common practice" in page
        assert "WFT = DFT" in page
        assert "this is not a permit" in page
        assert "Copy and change" not in page  # a guest only looks


def additive(name, pk="", dose="5"):
    return {"additives-0-name": name, "additives-0-dose": dose, "additives-0-slower": "1.5", "additives-0-additive": pk}


def test_an_additive_that_a_layer_has_stirred_in_stays_the_one_it_is(restorer_client, workshop, enamel, system):
    retarder = enamel.additives.create(workshop=workshop, name="retarder", dose=5)
    system.coats[1].additives.add(retarder)
    edit = reverse("coating-edit", args=[enamel.pk])
    assert f'value="{retarder.pk}"' in restorer_client.get(edit).content.decode()
    restorer_client.post(edit, sheet(**additive("slow retarder", str(retarder.pk), dose="8")))
    (kept,) = system.coats[1].additives.all()
    assert (kept.pk, kept.name, kept.dose.magnitude) == (retarder.pk, "slow retarder", 8)
    response = restorer_client.post(edit, sheet(name="no retarder any more"))
    assert "is stirred into layer 2 of primer and two of green" in response.content.decode()
    enamel.refresh_from_db()
    assert enamel.name == "green enamel"  # nothing is half kept
    assert enamel.additives.count() == 1


def test_another_tins_additive_is_not_drawn_in(restorer_client, workshop, enamel, primer):
    theirs = primer.additives.create(workshop=workshop, name="theirs", dose=5)
    restorer_client.post(reverse("coating-edit", args=[enamel.pk]), sheet(**additive("mine", str(theirs.pk))))
    theirs.refresh_from_db()
    assert (theirs.name, theirs.coating, enamel.additives.get().name) == ("theirs", primer, "mine")


def test_a_tin_of_ones_own_is_told_with_what_its_type_and_its_pigment_ask(restorer_client, workshop):
    """A polyurethane typed from its sheet said nothing of isocyanates [ISOCYANATE], a chromate primer nothing of it
    (common practice, no source): only copies of the starting library had cautions."""
    sent = sheet(name="hard gloss", generic_type="polyurethane", poisonous_pigment="on")
    page = restorer_client.post(reverse("coating-new"), sent, follow=True).content.decode()
    assert "never a filter mask alone" in page
    assert "Zinc, strontium and lead chromate" in page
    assert "holds chromate or lead" in page


def test_another_workshops_coating_is_not_found(stranger_client, enamel):
    for name in ("coating", "coating-edit"):
        assert stranger_client.get(reverse(name, args=[enamel.pk])).status_code == 404
    assert stranger_client.post(reverse("coating-copy", args=[enamel.pk])).status_code == 404


def test_a_helper_may_not_change_sheets(helper_client, enamel):
    assert helper_client.get(reverse("coating-edit", args=[enamel.pk])).status_code == 403
    assert helper_client.get(reverse("coating-new")).status_code == 403


def test_a_new_sheet_is_kept_whole(restorer_client, workshop):
    response = restorer_client.post(reverse("coating-new"), sheet())
    coating = Coating.objects.of(workshop).get()
    assert response.url == reverse("coating", args=[coating.pk])
    assert [point.recoat_from.magnitude for point in coating.drying_points.all()] == [30, 15]
    assert str(coating.tin_sizes.get().price) == "41.50"
    assert coating.basis["volume_solids"] == "sheet of May 2026"
    assert all(set(point.basis.values()) == {"sheet of May 2026"} for point in coating.drying_points.all())
    assert coating.drying_table() is not None


def test_a_form_sent_twice_makes_one_coating(restorer_client):
    sent = sheet()
    first, second = (restorer_client.post(reverse("coating-new"), sent) for _ in range(2))
    assert first.url == second.url
    assert Coating.objects.count() == 1


def test_the_library_is_copied_and_not_changed(restorer_client, workshop):
    load_library(workshop)
    generic = Coating.objects.get(library_key="polyurethane")
    assert restorer_client.get(reverse("coating-edit", args=[generic.pk])).url == reverse("coating", args=[generic.pk])
    response = restorer_client.post(reverse("coating-copy", args=[generic.pk]), {"id": str(uuid.uuid4())})
    copied = Coating.objects.get(library_key="polyurethane", from_library=False)
    assert response.url == reverse("coating-edit", args=[copied.pk])
    assert copied.pot_life == generic.pot_life
    assert copied.drying_points.count() == generic.drying_points.count()


def test_a_changed_value_takes_its_source_and_the_others_keep_theirs(restorer_client, workshop):
    load_library(workshop)
    generic = Coating.objects.get(library_key="alkyd-enamel")
    restorer_client.post(reverse("coating-copy", args=[generic.pk]))
    copied = Coating.objects.get(library_key="alkyd-enamel", from_library=False)
    page = restorer_client.get(reverse("coating-edit", args=[copied.pk]))
    sent = typed_in(page.context["form"]) | {"volume_solids": "48", "source": "the tin in hand"}
    assert restorer_client.post(reverse("coating-edit", args=[copied.pk]), sent).status_code == 302
    copied.refresh_from_db()
    assert copied.volume_solids.magnitude == 48
    assert copied.basis == {**generic.basis, "volume_solids": "the tin in hand"}


def test_a_changed_time_takes_its_source_and_the_others_of_its_row_keep_theirs(restorer_client, workshop):
    """One source a value: the specification of the alkyd primer says 18 h at 20 °C and nothing of touch-dry."""
    load_library(workshop)
    generic = Coating.objects.get(library_key="alkyd-primer")
    restorer_client.post(reverse("coating-copy", args=[generic.pk]))
    copied = Coating.objects.get(library_key="alkyd-primer", from_library=False)
    form = restorer_client.get(reverse("coating-edit", args=[copied.pk])).context["form"]
    sent = typed_in(form) | {"drying-3-touch": "5.5", "source": "the tin in hand"}
    assert restorer_client.post(reverse("coating-edit", args=[copied.pk]), sent).status_code == 302
    copied = Coating.objects.get(pk=copied.pk)
    told = {point.temperature: point.basis for point in copied.drying_table().points}
    assert told[20] == {**generic.basis, "touch": "the tin in hand"}
    assert told[10]["touch"] == "our judgement"
    page = " ".join(restorer_client.get(reverse("coating", args=[copied.pk])).content.decode().split())
    assert "the tin in hand</span> at 20 °C" in page
    assert "39.9 h" in page  # at 5 °C; "39 h" stood there, shorter than it is


def typed_in(form):
    """What a browser would send back from this page unchanged."""
    tables = [form.pot_life, *form.tables.values()]
    boxes = [*form, *(box for rows in tables for row in rows for box in row)]
    boxes += [box for rows in tables for box in rows.management_form]
    values = {box.html_name: box.value() for box in boxes}
    ticked = {name: "on" if value is True else value for name, value in values.items() if value is not False}
    return {name: value for name, value in ticked.items() if value is not None}


def test_a_row_out_of_order_is_told_at_its_row_and_column(restorer_client):
    response = restorer_client.post(reverse("coating-new"), sheet(**{"drying-1-temperature": "8"}))
    page = response.content.decode()
    assert "Row 2, At: rows go from cold to hot" in page
    assert 'value="green enamel"' in page
    assert Coating.objects.count() == 0


def test_times_that_grow_with_warmth_and_half_a_closed_zone_are_told(restorer_client):
    sent = sheet(**{"drying-1-recoat_from": "40", "drying-0-closed_until": "50"})
    page = restorer_client.post(reverse("coating-new"), sent).content.decode()
    assert "Row 2, Next coat from: 40 h is longer than 30 h in a colder row" in page
    assert "Row 1, Closed from: a closed zone has two ends" in page


def test_an_emptied_row_is_taken_out(restorer_client, enamel):
    page = restorer_client.get(reverse("coating-edit", args=[enamel.pk]))
    sent = typed_in(page.context["form"])
    sent = {name: "" if name.startswith("drying-1-") else value for name, value in sent.items()}
    assert restorer_client.post(reverse("coating-edit", args=[enamel.pk]), sent).status_code == 302
    assert [point.temperature.magnitude for point in enamel.drying_points.all()] == [10, 30]


@pytest.mark.parametrize(
    ("box", "typed", "told"),
    [
        ("volume_solids", "101", "Must lie between 1 % and 100 %"),
        ("humidity_max", "140", "Must lie between 20 % and 100 %"),
        ("colour", "green", "“green” is no colour known here."),
        ("temperature_max", "4", "lies below the lowest"),
        ("dry_film", "thick", "Give a number"),
        ("tins-1-litres", "2.5", "This size stands in a row above."),
        ("pot_life-0-temperature", "20", "This field is required."),
        ("additives-0-name", "retarder", "This field is required."),
    ],
)
def test_what_cannot_be_is_told_at_its_box(restorer_client, box, typed, told):
    response = restorer_client.post(reverse("coating-new"), sheet(**{box: typed}))
    assert response.status_code == 200
    assert told in response.content.decode()
    assert Coating.objects.count() == 0


def test_a_two_pack_needs_its_parts(restorer_client):
    page = restorer_client.post(reverse("coating-new"), sheet(two_pack="on")).content.decode()
    assert "A two-pack needs its parts of base and of hardener." in page


def test_a_warm_mix_does_not_live_longer(restorer_client):
    rows = {"pot_life-0-temperature": "20", "pot_life-0-minutes": "120", "pot_life-1-temperature": "30"}
    page = restorer_client.post(reverse("coating-new"), sheet(**rows, **{"pot_life-1-minutes": "240"}))
    assert "Longer than in a colder row" in page.content.decode()


def test_every_pot_life_row_out_of_order_is_told(restorer_client):
    """Also one that stands below another that is wrong."""
    given = [(20, 120), (10, 60), (10, 30)]
    rows = {f"pot_life-{n}-temperature": at for n, (at, _) in enumerate(given)}
    rows |= {f"pot_life-{n}-minutes": minutes for n, (_, minutes) in enumerate(given)}
    page = restorer_client.post(reverse("coating-new"), sheet(**rows)).content.decode()
    assert page.count("each warmer than the one above") == 2


def test_a_us_workshop_types_its_own_units(restorer_client, workshop):
    workshop.units = "us"
    workshop.save()
    sent = sheet(
        dry_film="1.5", temperature_min="41", temperature_max="95", margin="5", **{"drying-0-temperature": "50"}
    )
    restorer_client.post(reverse("coating-new"), sent | {"drying-1-temperature": "73", "tins-0-litres": "1"})
    coating = Coating.objects.of(workshop).get()
    assert coating.dry_film.magnitude == pytest.approx(38.1)
    assert coating.temperature_min.magnitude == pytest.approx(5)
    assert coating.tin_sizes.get().litres.magnitude == pytest.approx(3.785, abs=0.001)


def test_rough_input_is_refused_in_words(restorer_client):
    usual = sheet()
    for given in rough_answers(usual, times=15, seed=3, usual=usual):
        assert restorer_client.post(reverse("coating-new"), given).status_code in (200, 302), given


def test_a_sheet_seen_in_us_units_and_sent_back_changes_nothing(restorer_client, workshop):
    load_library(workshop)
    workshop.units = "us"
    workshop.save()
    generic = Coating.objects.get(library_key="polyurethane")
    restorer_client.post(reverse("coating-copy", args=[generic.pk]))
    copied = Coating.objects.get(library_key="polyurethane", from_library=False)
    sent = typed_in(restorer_client.get(reverse("coating-edit", args=[copied.pk])).context["form"])
    assert restorer_client.post(reverse("coating-edit", args=[copied.pk]), sent).status_code == 302
    copied.refresh_from_db()
    assert copied.basis == generic.basis
    assert copied.dry_film.magnitude == pytest.approx(generic.dry_film.magnitude, rel=1e-5)
