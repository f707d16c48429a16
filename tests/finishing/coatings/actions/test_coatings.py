"""A sheet is copied and kept; what was changed says so."""

import uuid

import pytest

from finishing.coatings.actions.coatings import copy_coating
from finishing.coatings.models import Coating
from tests import factories

pytestmark = pytest.mark.django_db


def test_a_copy_is_ones_own_with_all_its_rows(primer):
    primer.from_library, primer.library_key, primer.basis = True, "grey", {"density": "common practice"}
    primer.save()
    factories.TinSizeFactory(coating=primer)
    copied = copy_coating(primer, pk=uuid.uuid4())
    assert not copied.from_library
    assert copied.basis == primer.basis
    assert copied.drying_points.count() == 3
    assert copied.tin_sizes.count() == 1
    assert primer.drying_points.count() == 3


def test_a_copy_asked_for_twice_is_one_row(primer):
    same = uuid.uuid4()
    assert copy_coating(primer, pk=same) == copy_coating(primer, pk=same)
    assert Coating.objects.count() == 2


def test_a_copy_never_takes_the_id_of_another_workshops_row(primer, other_workshop):
    theirs = factories.CoatingFactory(workshop=other_workshop, name="theirs")
    copied = copy_coating(primer, pk=theirs.pk)
    assert copied.pk != theirs.pk
    theirs.refresh_from_db()
    assert theirs.name == "theirs"
