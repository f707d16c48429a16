"""One page a question: right to published examples, open to strangers, and patient with rough input."""

import re

import pytest
from django.forms import Textarea, TextInput
from django.urls import reverse
from django.utils.http import urlencode

from finishing.calculators.forms import QUESTIONS, Asker
from projects.record.models import Step
from tests import factories

from .rough import rough_answers

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]

each_question = pytest.mark.parametrize("name", QUESTIONS)


def address(name, **given):
    return reverse("calculator", args=[name]) + (f"?{urlencode(given)}" if given else "")


def ask(client, name, **given):
    response = client.get(address(name, **given))
    assert response.status_code == 200
    return response


def ask_example(client, name):
    return ask(client, name, **QUESTIONS[name](None, asker=Asker()).example)


def test_the_list_leads_to_every_question(client):
    page = client.get(reverse("calculators")).content.decode()
    for name in QUESTIONS:
        assert address(name) in page


@each_question
def test_a_stranger_sees_an_example_beside_the_boxes_and_its_answer_only_when_asked(client, name):
    response = ask(client, name)
    assert not response.context["question"].answer
    page = response.content.decode()
    assert "No answer yet" not in page
    assert f"?{response.context['example']}".replace("&", "&amp;") in page
    assert ask_example(client, name).context["question"].answer


@each_question
def test_what_nobody_typed_enters_no_answer(client, name):
    """Of the boxes for what is measured, only those stand filled that begin with what usually holds."""
    shown = ask(client, name).context["form"]
    typed = [box for box in shown if isinstance(box.field.widget, TextInput | Textarea) and box.value()]
    assert {box.name for box in typed} <= shown.begins_with


def test_air_alone_gives_no_hours(client):
    page = ask(client, "bare-iron", temperature="20", humidity="", metal="", salt="not known", tightening="100")
    assert page.context["question"].answer is None


@each_question
def test_each_answer_opens_its_working_or_names_its_source(client, name):
    page = ask_example(client, name).content.decode()
    assert "Source: <a" in page


@each_question
def test_the_example_says_the_same_in_both_units(client, name):
    """The link to the other units carries the same question, so the workings, which stay metric, agree: to three digits
    and a half, for a box is written in the other units with four."""
    first = ask_example(client, name)
    there = client.get(f"{reverse('calculator', args=[name])}?{first.context['others'][0][0]}")
    assert there.context["measures"] == "us"
    back = client.get(f"{reverse('calculator', args=[name])}?{there.context['others'][0][0]}")
    here, again = (
        [float(w.result.split()[0].replace("−", "-")) for w in page.context.get("workings", [])]
        for page in (first, back)
    )
    assert here == pytest.approx(again, rel=5e-3)


@each_question
def test_live_answers_are_only_the_answer(client, name):
    typed = QUESTIONS[name](None, asker=Asker()).example
    response = client.get(address(name, **typed), HTTP_HX_REQUEST="true")
    page = response.content.decode()
    assert response.status_code == 200
    assert "<html" not in page
    assert "No answer yet" not in page


def test_an_unknown_question_is_not_found(client):
    assert client.get(reverse("calculator", args=["no-such"])).status_code == 404


def test_dew_point_as_published(client):
    """20 °C and 60 %: 12.0 °C in two published tables [trade tables A and B]."""
    page = ask(client, "dew-point", temperature="20", humidity="60", metal="16")
    assert page.context["dew_point"].magnitude == pytest.approx(12.0, abs=0.15)
    assert page.context["may"]


def test_metal_at_its_dew_point_is_wet(client):
    page = ask(client, "dew-point", temperature="18", humidity="50", metal="5")
    assert "the metal is wet" in page.content.decode()


def test_without_a_metal_temperature_nobody_says_yes(client):
    page = ask(client, "dew-point", temperature="20", humidity="60", metal="").content.decode()
    assert "Measure the metal first" in page
    assert "Yes." not in page


def test_a_paint_brings_its_own_limits(client):
    given = {"temperature": "20", "humidity": "75", "metal": "20"}
    assert ask(client, "dew-point", **given).context["may"]
    assert not ask(client, "dew-point", **given, paint="cellulose-enamel").context["may"]


@pytest.mark.parametrize(
    ("air", "humidity", "metal", "salt", "hours"),
    [("20", "55", "20", "clean", 8), ("20", "55", "16", "clean", 2), ("20", "55", "20", "not known", 4),
     ("20", "55", "20", "coast", 2), ("18", "45", "18", "coast", 4)],
)  # fmt: skip
def test_bare_iron_as_worked_by_hand(client, air, humidity, metal, salt, hours):
    """Steady air in the bands of the budget, our own model: each answer is read off its table."""
    page = ask(client, "bare-iron", temperature=air, humidity=humidity, metal=metal, salt=salt, tightening="100")
    assert page.context["hours"] == pytest.approx(hours, abs=0.01)
    assert "Eyes win" in page.content.decode()


def test_a_cold_casting_as_worked_by_hand(client):
    """5 °C into 18 °C at 50 %, L = 20 mm: past the dew point after 0.47 h, clear by 3 °C after 1.24 h (own sum)."""
    page = ask(
        client, "cold-casting", metal="5", temperature="18", humidity="50", wall="40",
        material="grey iron", shelter="still indoor", margin="3",
    )  # fmt: skip
    assert page.context["wet_for"] == pytest.approx(0.47, abs=0.01)
    assert page.context["ready_after"] == pytest.approx(1.24, abs=0.01)


def test_air_that_is_too_damp_never_clears_a_casting(client):
    page = ask(
        client, "cold-casting", metal="5", temperature="10", humidity="95", wall="40",
        material="grey iron", shelter="still indoor", margin="3",
    )  # fmt: skip
    assert "Never in this air" in page.content.decode()


def test_area_of_a_weighed_casting(client):
    """60 kg with a wall of 12 mm: A = 2m/(ρt) = 1.389 m² (own sum, density 7200)."""
    page = ask(
        client, "area", shape="casting by weight and wall", mass="60", wall="12", material="grey iron", texture="0",
        ribbing="0", pieces="3",
    )  # fmt: skip
    assert page.context["area"].to("m**2").magnitude == pytest.approx(1.389, abs=0.001)
    assert page.context["all_mass"].to("kg").magnitude == pytest.approx(180, rel=1e-6)
    assert "hoist" in page.content.decode()


@pytest.mark.parametrize("shape", QUESTIONS["area"]().shapes)
def test_every_shape_has_boxes_of_its_own_and_an_answer(client, shape):
    page = ask(client, "area", shape=shape, units="us")
    assert page.context["question"].measures.keys() <= page.context["question"].fields.keys()
    measures = dict.fromkeys(page.context["question"].measures, "5")
    measures |= {name: "0.2" for name in ("wall", "thickness", "bar_diameter") if name in measures}
    typed = {"shape": shape, "material": "steel", "texture": "5", "ribbing": "10", "pieces": "1", **measures}
    assert ask(client, "area", **typed, units="us").context["area"].magnitude > 0


def test_a_shape_chosen_opens_with_an_example_and_stays_chosen_in_other_units(client):
    page = ask(client, "area", shape="sphere")
    assert page.context["question"].untouched
    assert page.context["question"].example["shape"] == "sphere"
    assert "shape=sphere" in page.context["others"][0][0]


def test_spreading_rate_in_us_units_as_published(client):
    """65 % solids at 5 mil: 208.52 ft²/gal [SPREADING-RATE-US]."""
    page = ask(client, "spreading-rate", volume_solids="65", dry_film="5", method="brush", units="us")
    assert page.context["rate"] == pytest.approx(208.52, rel=0.001)
    assert "ft²/gal" in page.content.decode()


def test_wet_film_as_published(client):
    """Solids 48 %, dry 50 µm: 104 µm wet on a data sheet of the generic type."""
    page = ask(client, "wet-film", dry_film="50", volume_solids="48", thinning="0")
    assert page.context["wet_film"].magnitude == pytest.approx(104, abs=0.5)


def test_wet_film_wants_one_of_the_two(client):
    both = ask(client, "wet-film", dry_film="50", wet_film="100", volume_solids="48", thinning="0")
    assert both.context["question"].errors["wet_film"]
    none = ask(client, "wet-film", dry_film="", wet_film="", volume_solids="48", thinning="0")
    assert none.context["question"].errors["dry_film"]


def test_paint_for_two_coats_and_the_cheapest_tins(client):
    """4.2 m², solids 45 %, 40 µm, two coats by brush: 0.830 L on the parts (own sum)."""
    page = ask(
        client, "paint-needed", area="4.2", coats="2", volume_solids="45", dry_film="40", thinning="10",
        method="brush", tins="1 L 18,50\n2.5 L 39",
    )  # fmt: skip
    assert page.context["litres"].likely.to("L").magnitude == pytest.approx(0.830, abs=0.001)
    assert [(str(tin.price), count) for tin, count in page.context["purchase"].tins] == [("18.50", 1)]


def test_paint_is_filled_in_from_a_generic_type(client):
    page = ask(client, "paint-needed", area="4.2", coats="1", paint="alkyd-enamel", method="brush")
    assert page.context["litres"].likely.magnitude > 0


def test_without_a_paint_the_boxes_are_asked_for(client):
    page = ask(client, "paint-needed", area="4.2", coats="1", method="brush")
    assert set(page.context["question"].errors) == {"volume_solids", "dry_film"}


def test_a_line_of_tins_that_is_not_understood_is_named(client):
    page = ask(
        client,
        "paint-needed",
        area="1",
        coats="1",
        volume_solids="45",
        dry_film="40",
        method="brush",
        tins="1 L 9\nbig",
    )
    assert "Line 2, “big”" in page.content.decode().replace("&quot;", '"')


def test_mixing_keeps_every_pot_within_half_its_pot_life(client):
    """3 h of work and 2 h of pot life at 20 °C: pots for an hour each, so three (own sum)."""
    page = ask(
        client, "mixing", litres="1.5", work="180", temperature="20", base="4", hardener="1", pot_life="120",
        pot_life_at="20", thinning="0",
    )  # fmt: skip
    session = page.context["session"]
    assert len(session.mixes) == 3
    assert session.mixes[0].base.to("L").magnitude == pytest.approx(0.4)
    assert "isocyanate" in page.content.decode()


def test_half_a_two_pack_is_asked_for_the_other_half(client):
    page = ask(client, "mixing", litres="1", work="60", temperature="20", base="4", hardener="")
    assert "hardener" in page.context["question"].errors


def test_the_next_coat_as_on_the_sheet(client):
    """Alkyd enamel of the generic type: 15 h at 23 °C on the sheet, from rows at 10 and 23 °C."""
    page = ask(client, "next-coat", paint="alkyd-enamel", temperature="23", humidity="50")
    assert page.context["stages"]["recoat_from"] == pytest.approx(15, rel=0.01)


def test_the_closed_zone_is_told(client):
    page = ask(client, "next-coat", paint="alkyd-enamel-quick", temperature="20", humidity="50").content.decode()
    assert "it is closed" in page
    assert "then again after 24 h" in page


def test_cold_paint_does_not_dry(client):
    page = ask(client, "next-coat", paint="alkyd-enamel", temperature="-2", humidity="50").content.decode()
    assert "It does not dry" in page


def test_ones_own_tin_is_offered_and_nobody_elses(restorer_client, enamel, stranger_client):
    given = {"paint": str(enamel.pk), "temperature": "20", "humidity": "50"}
    assert ask(restorer_client, "next-coat", **given).context["stages"]["recoat_from"] == pytest.approx(6)
    assert ask(stranger_client, "next-coat", **given).context["question"].errors["paint"]


def test_old_paint_is_never_a_yes(client):
    page = ask(client, "overcoating", new="polyurethane", old="old or unknown", aged="aged")
    assert page.context["verdict"].word == "test patch"


def test_a_workshop_in_us_units_is_asked_in_them(db):
    workshop = factories.WorkshopFactory(units="us")
    question = QUESTIONS["dew-point"](None, asker=Asker(workshop, measures="us"))
    assert question.example["temperature"] == "64.4"


def test_an_impossible_value_is_told_at_its_box_and_stays_typed(client):
    page = ask(client, "dew-point", temperature="20", humidity="140", metal="16")
    assert "Must lie between 1 % and 100 %" in page.content.decode()
    assert re.search(r'name="humidity"[^>]*value="140"|value="140"[^>]*name="humidity"', page.content.decode())


@each_question
def test_rough_input_is_answered_or_refused_in_words(client, name):
    usual = dict(QUESTIONS[name](None, asker=Asker()).example)
    for number, given in enumerate(rough_answers(usual | {"units": ""}, times=10, seed=7, usual=usual)):
        response = client.get(address(name, **given), **({"HTTP_HX_REQUEST": "true"} if number % 2 else {}))
        assert response.status_code == 200, given


def test_an_answer_for_bare_iron_is_kept_as_a_piece_by_one_tap(owner_client, client, shop):
    given = {"temperature": "18", "humidity": "70", "metal": "17", "salt": "coast", "tightening": "100", "units": "us"}
    given |= {"temperature": "64.4", "metal": "62.6"}
    page = ask(owner_client, "bare-iron", **given).content.decode()
    assert "keep it as a piece" not in ask(client, "bare-iron", **given).content.decode()
    form = page[page.index(reverse("first-piece")) :]
    boxes = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form[: form.index("</form>")]))
    answer = owner_client.post(reverse("first-piece"), boxes)
    step = Step.objects.get()
    assert answer.url == reverse("piece", args=[step.piece_id])
    seen = (step.air_temperature.magnitude, step.humidity.magnitude, step.surface_temperature.magnitude)
    assert seen == pytest.approx((18, 70, 17), abs=0.01)
    assert (step.piece.salt, step.place) == ("coast", shop)
