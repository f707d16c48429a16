"""A few smuggled keys, and an owner's forms sent by a guest; benchmarks/ does all of them."""

import pytest

from . import factories
from .smuggling import KINDS, OWNERS_OWN, forms_on, pointing_across, pressed_by, rows_to_steal, smuggle

pytestmark = pytest.mark.django_db


def test_no_key_of_another_workshop_s_row_is_taken_and_a_guest_changes_nothing(
    owner_client, guest_client, other_workshop, tried
):
    stolen = rows_to_steal(other_workshop)
    forms = forms_on(owner_client, tried)
    smuggled = smuggle(owner_client, forms, stolen, each=1)
    assert smuggled.leaks == []
    assert smuggled.sent > 50
    assert pressed_by(guest_client, forms, [*OWNERS_OWN, *KINDS], "guest").leaks == []


def test_a_row_that_points_across_is_seen(workshop, other_workshop, yard):
    assert pointing_across() is None
    theirs = factories.PieceFactory(part__design__workshop=other_workshop)
    factories.StepFactory(piece=theirs, place=yard)
    assert pointing_across() == "Step.place"
