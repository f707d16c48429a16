"""Systems: layers in order, each held against the one below, and what the log speaks of stays."""

import uuid

import pytest
from django.urls import reverse

from finishing.coatings.models import System
from finishing.library.actions import load_library
from tests import factories
from tests.finishing.calculators.views.rough import rough_answers

pytestmark = pytest.mark.django_db


def layers(*rows, **values):
    """A system as the page sends it; a row is (what, coating) or (what, coating, more boxes)."""
    sent = {"id": str(uuid.uuid4()), "name": "primer and green", "layers-TOTAL_FORMS": 8, "layers-INITIAL_FORMS": 0}
    for number, (kind, coating, *more) in enumerate(rows):
        usual = {"kind": kind, "coating": coating.pk if coating else "", "side": "all", "method": "brush"}
        usual |= {"minutes": "20", "wait": "0"} | (more[0] if more else {})
        sent |= {f"layers-{number}-{name}": value for name, value in usual.items()}
    return sent | values


def standing(system):
    """The rows of a system as its page shows them."""
    return [
        (layer.kind, layer.coating, {"layer": str(layer.pk), "order": str(layer.position)})
        for layer in system.layers.all()
    ]


def test_the_list_shows_the_library_and_ones_own(guest_client, workshop, system):
    load_library(workshop)
    page = guest_client.get(reverse("systems")).content.decode()
    assert "primer and two of green" in page
    assert "Epoxy and two coats of polyurethane" in page


def test_each_library_system_says_what_goes_over_what(guest_client, workshop):
    load_library(workshop)
    for system in System.objects.of(workshop):
        page = guest_client.get(reverse("system", args=[system.pk])).content.decode()
        assert "What goes over what" in page
        assert page.count("Layer ") >= len(system.overcoats)
        assert "Bare metal below" not in page


def test_another_workshops_system_is_not_found(stranger_client, system):
    for name in ("system", "system-edit"):
        assert stranger_client.get(reverse(name, args=[system.pk])).status_code == 404
    assert stranger_client.post(reverse("system-copy", args=[system.pk])).status_code == 404


def test_a_helper_may_not_change_systems(helper_client, system):
    assert helper_client.get(reverse("system-edit", args=[system.pk])).status_code == 403


def test_a_new_system_is_kept_in_its_order(restorer_client, workshop, primer, enamel):
    sent = layers(
        ("coat", enamel, {"order": "3"}), ("coat", primer, {"order": "1"}), ("rub down", None, {"order": "2"})
    )
    response = restorer_client.post(reverse("system-new"), sent)
    system = System.objects.of(workshop).get()
    assert response.url == reverse("system", args=[system.pk])
    assert [layer.kind for layer in system.layers.all()] == ["coat", "rub down", "coat"]
    assert system.coats[0].coating == primer


def test_a_form_sent_twice_makes_one_system(restorer_client, primer):
    sent = layers(("coat", primer))
    for _ in range(2):
        restorer_client.post(reverse("system-new"), sent)
    assert System.objects.count() == 1


def test_the_library_is_copied_and_not_changed(restorer_client, workshop):
    load_library(workshop)
    generic = System.objects.filter(from_library=True).first()
    assert restorer_client.get(reverse("system-edit", args=[generic.pk])).url == reverse("system", args=[generic.pk])
    response = restorer_client.post(reverse("system-copy", args=[generic.pk]), {"id": "nonsense"})
    copied = System.objects.get(from_library=False)
    assert response.url == reverse("system-edit", args=[copied.pk])
    assert copied.layers.count() == generic.layers.count()


def test_strong_solvent_over_alkyd_is_told_as_no(restorer_client, workshop, enamel):
    """[UFC-COMPATIBILITY]: strong solvents lift an alkyd."""
    hard = factories.CoatingFactory(workshop=workshop, name="hard gloss", generic_type="polyurethane")
    page = restorer_client.post(reverse("system-new"), layers(("coat", enamel), ("coat", hard)), follow=True)
    text = page.content.decode()
    assert "<b>No.</b>" in text
    assert "Layer 2, hard gloss, over layer 1, green enamel" in text
    assert "Bare metal below" in text  # the enamel neither primes nor is primed


def test_a_layer_in_the_log_cannot_be_taken_out(restorer_client, system):
    logged = system.layers.get(position=2)
    factories.StepFactory(piece__part__design__workshop=system.workshop, layer=logged)
    rows = [row for row in standing(system) if row[2]["layer"] != str(logged.pk)]
    response = restorer_client.post(reverse("system-edit", args=[system.pk]), layers(*rows, name="shorter"))
    page = response.content.decode()
    assert response.status_code == 200
    assert "is in the log of a piece" in page
    assert 'value="shorter"' in page
    system.refresh_from_db()
    assert (system.name, system.layers.count()) == ("primer and two of green", 3)


def test_a_logged_layer_may_move(restorer_client, system):
    logged = system.layers.get(position=3)
    factories.StepFactory(piece__part__design__workshop=system.workshop, layer=logged)
    rows = [("degrease", None, {"order": "0"}), *standing(system)]
    assert restorer_client.post(reverse("system-edit", args=[system.pk]), layers(*rows)).status_code == 302
    logged.refresh_from_db()
    assert logged.position == 4


def test_a_layer_of_another_system_is_not_drawn_in(restorer_client, workshop, system, primer):
    other = factories.SystemFactory(workshop=workshop)
    theirs = factories.LayerFactory(system=other, position=1, coating=primer)
    rows = [("coat", primer, {"layer": str(theirs.pk)})]
    assert restorer_client.post(reverse("system-edit", args=[system.pk]), layers(*rows)).status_code == 302
    theirs.refresh_from_db()
    assert theirs.system == other


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (("coat", None), "A coat needs its coating."),
        (("wipe", None), "A system needs at least one coat."),
        (("coat", None, {"minutes": "-5"}), "Must lie between"),
        (("", None, {"dry_film": "40"}), "Say what is done, or empty the row."),
    ],
)
def test_what_cannot_be_is_told(restorer_client, workshop, row, told):
    response = restorer_client.post(reverse("system-new"), layers(row))
    assert response.status_code == 200
    assert told in response.content.decode()
    assert System.objects.count() == 0


def test_a_layer_says_what_is_stirred_in(restorer_client, workshop, system, enamel):
    retarder = enamel.additives.create(workshop=workshop, name="retarder", dose=5)
    rows = standing(system)
    rows[2][2]["additives"] = [str(retarder.pk)]
    edit = reverse("system-edit", args=[system.pk])
    assert restorer_client.post(edit, layers(*rows)).status_code == 302
    assert [list(layer.additives.all()) for layer in system.layers.all()] == [[], [], [retarder]]
    assert "retarder 5 %" in restorer_client.get(reverse("system", args=[system.pk])).content.decode()
    shown = restorer_client.get(edit).content.decode()
    assert "retarder, in green enamel" in shown
    assert shown.count("<details open>") == 1  # what is stirred in is not folded away


def test_what_another_tin_has_to_stir_in_is_told_at_its_box(restorer_client, workshop, system, enamel):
    retarder = enamel.additives.create(workshop=workshop, name="retarder", dose=5)
    rows = standing(system)
    rows[0][2]["additives"] = [str(retarder.pk)]  # the primer's
    response = restorer_client.post(reverse("system-edit", args=[system.pk]), layers(*rows))
    assert "retarder is for green enamel" in response.content.decode()
    assert not retarder.layers.exists()


def test_another_workshops_tin_is_not_offered(restorer_client, other_workshop):
    theirs = factories.CoatingFactory(workshop=other_workshop)
    response = restorer_client.post(reverse("system-new"), layers(("coat", theirs)))
    assert response.status_code == 200
    assert System.objects.count() == 0


def test_rough_input_is_refused_in_words(restorer_client, primer):
    usual = layers(("coat", primer, {"order": "1", "dry_film": "40", "thinning": "5", "layer": ""}), ("wipe", None))
    for given in rough_answers(usual, times=15, seed=5, usual=usual):
        assert restorer_client.post(reverse("system-new"), given).status_code in (200, 302), given
