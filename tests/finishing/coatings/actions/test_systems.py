"""Layers keep who they are when their order changes, and stay while a log speaks of them."""

import uuid

import pytest

from finishing.coatings.actions.systems import LayerInUse, copy_system, save_system
from finishing.coatings.models import Layer
from tests import factories

pytestmark = pytest.mark.django_db


def rows_of(system):
    return [(layer.pk, layer) for layer in system.layers.all()]


def test_layers_change_places_and_stay_themselves(system):
    first, second, third = rows_of(system)
    save_system(system, [third, first, second])
    assert [layer.pk for layer in system.layers.all()] == [third[0], first[0], second[0]]


def test_a_layer_left_out_is_gone_and_a_new_one_comes_in(system, enamel):
    first, _, third = rows_of(system)
    wipe = Layer(workshop=system.workshop, kind=Layer.Kind.WIPE)
    save_system(system, [(None, wipe), first, third])
    assert [layer.kind for layer in system.layers.all()] == ["wipe", "coat", "coat"]
    assert [layer.position for layer in system.layers.all()] == [1, 2, 3]


def test_a_logged_layer_stays_and_nothing_is_half_saved(system):
    first, second, third = rows_of(system)
    factories.StepFactory(piece__part__design__workshop=system.workshop, layer=second[1])
    with pytest.raises(LayerInUse):
        save_system(system, [third, first])
    assert [layer.pk for layer in system.layers.all()] == [first[0], second[0], third[0]]


def test_a_copy_has_layers_of_its_own(system):
    copied = copy_system(system, pk=uuid.uuid4())
    assert copied.layers.count() == 3
    assert not {layer.pk for layer in copied.layers.all()} & {layer.pk for layer in system.layers.all()}
