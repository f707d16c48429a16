"""A medium as a row: what its sheet says becomes what science reckons with, and sand stays refused."""

import pytest
from django.core.exceptions import ValidationError

from finishing.science import blasting
from finishing.science.units import Quantity
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def glass(workshop):
    made = factories.MediumFactory(workshop=workshop)
    made.refresh_from_db()
    return made


def test_a_row_becomes_its_value(glass):
    value = glass.value()
    assert value.bulk_density == Quantity(1360, "kg/m**3")
    assert value.free_silica == Quantity(1, "percent")
    assert value.cycles == (1, 1)
    assert value.profile == (Quantity(40, "µm"), Quantity(65, "µm"))
    assert not blasting.medium_refusals(value)


@pytest.mark.parametrize("silica", [None, 1.5, 99])
def test_too_much_silica_or_unknown_is_refused_with_a_reason(workshop, silica):
    made = factories.MediumFactory(workshop=workshop, free_silica=silica)
    made.refresh_from_db()
    assert "lungs" in made.refusal
    assert [refused.field for refused in blasting.medium_refusals(made.value())] == ["free silica"]


def test_without_a_density_nothing_is_reckoned(workshop):
    made = factories.MediumFactory(workshop=workshop, bulk_density=None)
    made.refresh_from_db()
    assert [refused.field for refused in blasting.medium_refusals(made.value())] == ["bulk density"]


@pytest.mark.parametrize("name", ["hardness", "profile", "cycles"])
def test_a_range_the_wrong_way_round_is_told_at_its_upper_end(glass, name):
    setattr(glass, f"{name}_low", 5)
    setattr(glass, f"{name}_high", 2)
    with pytest.raises(ValidationError) as told:
        glass.full_clean()
    assert set(told.value.message_dict) == {f"{name}_high"}


def test_a_profile_half_known_is_not_known(glass):
    glass.profile_high = None
    assert glass.profile is None
    assert not glass.keyless


@pytest.mark.parametrize(("iron", "word"), [("free", "suited"), ("leaves", "avoid"), ("unknown", "avoid")])
def test_what_its_sheet_says_of_iron_counts_on_brass(glass, iron, word):
    glass.kind, glass.iron = "plastic", iron
    assert glass.fit("brass and bronze", "thick old paint").word == word
