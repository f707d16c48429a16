"""A colour by its name among the workshop's own, by its code, or picked."""

import pytest
from django.core.exceptions import ValidationError

from finishing.coatings.forms.colours import ColourField, code_of
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def field(workshop):
    factories.CoatingFactory(workshop=workshop, name="quick enamel", colour_name="deep green", colour="#2f5a44")
    factories.CoatingFactory(workshop=workshop, name="slow enamel", colour_name="deep green", colour="#2f5a44")
    factories.CoatingFactory(workshop=workshop, name="gloss", colour_name="light blue", colour="#7799cc")
    factories.CoatingFactory(workshop=workshop, name="matt", colour_name="dark blue", colour="#223366")
    factories.CoatingFactory(name="a stranger's", colour_name="pink", colour="#ffaacc")  # of another workshop
    field = ColourField(required=False)
    field.offer(workshop)
    return field


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("green", "#2f5a44"),
        ("Deep Green", "#2f5a44"),
        ("slow enamel", "#2f5a44"),
        ("light blue", "#7799cc"),
        ("gloss, light blue", "#7799cc"),
        ("blue, dark", "#223366"),
        ("#2F5A44", "#2f5a44"),
        ("2f5a44", "#2f5a44"),
        ("#abc", "#aabbcc"),
        ("", ""),
    ],
)
def test_a_colour_is_read_by_name_or_code(field, typed, code):
    assert field.clean(typed) == code


def test_a_name_that_several_have_asks_for_more_of_it(field):
    with pytest.raises(ValidationError, match="“blue” may be gloss, light blue; matt, dark blue: write more of its"):
        field.clean("blue")


@pytest.mark.parametrize("typed", ["pink", "#12345", "…"])
def test_a_colour_that_is_not_known_is_told_with_those_that_are(field, typed):
    with pytest.raises(ValidationError, match=f"“{typed}” is no colour known here. Your own are gloss, light blue; "):
        field.clean(typed)


def test_a_name_is_no_code():
    assert code_of("red") == ""
