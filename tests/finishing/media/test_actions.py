"""A medium's sheet is copied and kept; what was changed says so."""

import uuid

import pytest

from finishing.media.actions import copy_medium, save_medium
from finishing.media.models import Medium
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def glass(workshop):
    return factories.MediumFactory(
        workshop=workshop, from_library=True, library_key="glass", basis={"profile": "common practice"}
    )


def test_a_copy_is_ones_own_with_its_values_and_their_basis(glass):
    copied = copy_medium(glass, pk=uuid.uuid4())
    copied.refresh_from_db()
    assert not copied.from_library
    assert copied.library_key == ""
    assert copied.basis == glass.basis
    assert copied.bulk_density.magnitude == 1360


def test_a_copy_asked_for_twice_is_one_row(glass):
    same = uuid.uuid4()
    assert copy_medium(glass, pk=same) == copy_medium(glass, pk=same)
    assert Medium.objects.count() == 2


def test_a_copy_never_takes_the_id_of_another_workshops_row(glass, other_workshop):
    theirs = factories.MediumFactory(workshop=other_workshop, name="theirs")
    assert copy_medium(glass, pk=theirs.pk).pk != theirs.pk
    theirs.refresh_from_db()
    assert theirs.name == "theirs"


def test_the_two_ends_of_a_range_share_their_basis(glass):
    saved = save_medium(glass, changed=["profile_low", "profile_high", "free_silica"], source="sheet of May 2026")
    assert saved.basis == {"profile": "sheet of May 2026", "free_silica": "sheet of May 2026"}
