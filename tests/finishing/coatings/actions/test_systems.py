"""Layers keep who they are when their order changes, and stay while a log speaks of them."""

import uuid

import pytest

from finishing.coatings.actions.systems import LayerInUse, LayerWanted, copy_system, save_system
from finishing.coatings.models import Additive, Layer
from tests import factories

pytestmark = pytest.mark.django_db


def rows_of(system):
    return [LayerWanted(layer, layer.additives.all(), layer.pk) for layer in system.layers.all()]


def test_layers_change_places_and_stay_themselves(system):
    first, second, third = rows_of(system)
    save_system(system, [third, first, second])
    assert [layer.pk for layer in system.layers.all()] == [third.before, first.before, second.before]


def test_a_layer_left_out_is_gone_and_a_new_one_comes_in(system, enamel):
    first, _, third = rows_of(system)
    wipe = Layer(workshop=system.workshop, kind=Layer.Kind.WIPE)
    save_system(system, [LayerWanted(wipe), first, third])
    assert [layer.kind for layer in system.layers.all()] == ["wipe", "coat", "coat"]
    assert [layer.position for layer in system.layers.all()] == [1, 2, 3]


def test_a_logged_layer_stays_and_nothing_is_half_saved(system):
    first, second, third = rows_of(system)
    factories.StepFactory(piece__part__design__workshop=system.workshop, layer=second.values)
    with pytest.raises(LayerInUse):
        save_system(system, [third, first])
    assert [layer.pk for layer in system.layers.all()] == [first.before, second.before, third.before]


def test_a_copy_has_layers_of_its_own(system):
    retarder = Additive.objects.create(workshop=system.workshop, coating=system.coats[2].coating, name="r", dose=5)
    system.coats[2].additives.add(retarder)
    copied = copy_system(system, pk=uuid.uuid4())
    assert [list(layer.additives.all()) for layer in copied.layers.all()] == [[], [], [retarder]]
    assert copied.layers.count() == 3
    assert not {layer.pk for layer in copied.layers.all()} & {layer.pk for layer in system.layers.all()}
