"""The blaster's questions: right to worked examples, and what cannot be is told at its box."""

import pytest
from django.urls import reverse
from django.utils.http import urlencode

from finishing.calculators.forms import QUESTIONS, Asker
from tests import factories

from .rough import rough_answers

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


def ask(client, name, **given):
    usual = QUESTIONS[name](None, asker=Asker()).example
    response = client.get(f"{reverse('calculator', args=[name])}?{urlencode({**usual, **given})}")
    assert response.status_code == 200
    return response


def errors(response):
    return {box: told[0] for box, told in response.context["question"].errors.items()}


def test_a_small_compressor_and_its_receiver_as_worked_by_hand(client):
    """0.40 m³/min into 6 mm at 5 bar is 25 %; 500 L from 10 to 6 bar run it 1.65 min (by choked flow, C = 0.80)."""
    small = {"bore": "6", "pressure": "5", "free_air": "0.4", "receiver": "500", "full": "10", "empty": "6"}
    answer = ask(client, "nozzle-air", **small)
    assert answer.context["duty"].magnitude == pytest.approx(25, abs=0.5)
    assert answer.context["run"].to("minute").magnitude == pytest.approx(1.65, rel=0.03)
    assert "25 % of the time" in answer.content.decode()


def test_the_printed_table_in_its_own_units(client):
    """1/4 inch at 80 psi: 68 cfm [NOZZLE-TABLE]."""
    rig = {"free_air": "106", "hose_bore": "1", "most_pressure": "100"}
    answer = ask(client, "nozzle-air", units="us", bore="0.25", pressure="80 psi", **rig)
    assert answer.context["air"].to("ft**3/min").magnitude == pytest.approx(68, rel=1e-3)
    assert "68 cfm" in answer.content.decode()


def test_a_worn_nozzle_takes_more(client):
    answer = ask(client, "nozzle-air", bore="6.35", worn_bore="7.9375")
    assert answer.context["more"].magnitude == pytest.approx(56.25)


def test_the_pot_stands_above_the_nozzle_by_hose_and_feed(client):
    answer = ask(client, "nozzle-air", pressure="4.5", hose_loss="0.5", feed_difference="0.3")
    assert answer.context["pressures"].pot.magnitude == pytest.approx(5.3)
    page = answer.content.decode()
    assert page.index("At the nozzle") < page.index("Feeds the medium") < page.index("In the pot")


@pytest.mark.parametrize(
    ("name", "wrong", "box", "words"),
    [
        ("nozzle-air", {"hose_bore": "6"}, "bore", "6 mm is as wide as the hose of 6 mm"),
        ("nozzle-air", {"pressure": "6.8"}, "pressure", "the pot needs 7.45 bar, and the rig gives 7 bar"),
        ("nozzle-air", {"worn_bore": "5"}, "worn_bore", "it was 6 mm when new"),
        ("nozzle-air", {"receiver": "500", "full": ""}, "full", "at which pressure"),
        ("nozzle-air", {"receiver": "500", "empty": ""}, "empty", "down to which"),
        ("nozzle-air", {"full": "5", "empty": "6"}, "empty", "above 5 bar"),
        ("nozzle-air", {"bore": "30", "hose_bore": ""}, "bore", "between 2 mm and 20 mm"),
        ("nozzle-air", {"pressure": "0.3"}, "pressure", "between 1 bar and"),
        ("blasting", {"medium": "silica-sand"}, "medium", "Sand is never"),
        ("blasting", {"hose_bore": "6"}, "bore", "as wide as the hose"),
        ("blasting", {"most_pressure": "2"}, "pressure", "the rig gives 2 bar"),
        ("blasting", {"medium": "moon dust"}, "medium", "valid choice"),
        ("blasting", {"area": "0"}, "area", "Must lie between"),
    ],
)
def test_what_cannot_be_is_told_at_its_box(client, name, wrong, box, words):
    answer = ask(client, name, **wrong)
    assert set(errors(answer)) == {box}
    assert words in errors(answer)[box]
    assert "No answer yet" in answer.content.decode()


def test_what_cannot_be_is_told_in_the_askers_units(client):
    given = {"units": "us", "bore": "0.5", "hose_bore": "0.375", "pressure": "50", "most_pressure": "100"}
    told = errors(ask(client, "nozzle-air", **given, hose_loss="7", feed_difference="2"))
    assert "0.5 in is as wide as the hose of 0.375 in" in told["bore"]


def test_a_part_as_worked_by_hand(client):
    """4.2 m², 4.8 mm at 80 psi, a ribbed casting, garnet of 2200 kg/m³ gathered: 1.993 h at the rate of an abrasive of
    1602 kg/m³, so that its weight throws 195.3 · 2200/1602 kg, of which its cycles of 2 to 2.5 leave 119.2 to buy."""
    given = {"state": "plain rust", "bore": "4.7625", "pressure": "80 psi", "medium": "garnet-medium"}
    done = ask(client, "blasting", **given, gathered="on", metal="steel plate").context["done"]
    assert done.thrown.likely.magnitude == pytest.approx(195.3 * 2200 / 1601.85, rel=0.002)
    assert done.bought.likely.magnitude == pytest.approx(119.2, abs=0.3)
    assert done.bags.likely == 5
    assert done.rate.likely.magnitude == pytest.approx(2.107, rel=0.002)


def test_more_pressure_than_the_metal_bears_is_said(client):
    page = ask(client, "blasting", metal="thin or cracked iron", pressure="6").content.decode()
    assert "Too much pressure" in page
    assert "no more than 4 bar" in page


@pytest.mark.parametrize(
    ("medium", "metal", "state", "word"),
    [
        ("crushed-glass-medium", "grey iron", "foundry skin or tight scale", "suited"),
        ("bicarbonate", "brass and bronze", "thick old paint", "suited"),
        ("bicarbonate", "steel sheet", "plain rust", "avoid"),
        ("glass-bead", "grey iron", "plain rust", "avoid"),
        ("steel-grit", "aluminium", "plain rust", "avoid"),
    ],
)
def test_advice_of_the_trade(client, medium, metal, state, word):
    """Common practice, no source."""
    answer = ask(client, "blasting", medium=medium, metal=metal, state=state, pressure="2")
    assert answer.context["fit"].word == word
    assert f"on {metal}: {word}" in answer.content.decode()


def test_old_paint_and_soda_bring_their_cautions(client):
    page = ask(client, "blasting", medium="bicarbonate", state="thick old paint").content.decode()
    assert "Take old paint for leaded" in page
    assert "Rinse, bring it back to neutral" in page
    assert "this is not a permit or instruction" in page


def test_ones_own_bag_is_asked_for_and_anothers_is_nothing(restorer_client, stranger_client, client, workshop):
    own = factories.MediumFactory(workshop=workshop, name="our glass")
    assert ask(restorer_client, "blasting", medium=own.pk).context["medium"] == own
    for elsewhere in (stranger_client, client):
        assert "medium" in errors(ask(elsewhere, "blasting", medium=own.pk))


def test_ones_own_bag_without_density_or_silica_is_refused(restorer_client, workshop):
    own = factories.MediumFactory(workshop=workshop, bulk_density=None, free_silica=None)
    answer = ask(restorer_client, "blasting", medium=own.pk)
    assert len(answer.context["question"].errors["medium"]) == 2


@pytest.mark.parametrize("name", ["nozzle-air", "blasting", "solvent-air"])
def test_rough_input_is_an_answer_and_never_a_fault(client, name):
    usual = QUESTIONS[name](None, asker=Asker()).example
    for given in rough_answers(QUESTIONS[name].base_fields, times=150, seed=7, usual=usual):
        assert client.get(f"{reverse('calculator', args=[name])}?{urlencode(given)}").status_code == 200


def test_air_against_solvent_as_worked_by_hand(client):
    """A litre of white spirit: 88.8 m³, from the formula of OSHA 29 CFR 1910.94(c) (from memory)."""
    answer = ask(client, "solvent-air", liquid="1", solvent="white spirit")
    assert answer.context["air"].magnitude == pytest.approx(88.8, rel=0.002)
    assert "Against fire only" in answer.content.decode()


def test_pressed_air_drops_its_water(client):
    """Damp air cakes the grit. Common practice, no source."""
    answer = ask(client, "nozzle-air")
    assert answer.context["water"].to("L").magnitude > 0.3
    assert "cakes the grit" in answer.content.decode()
