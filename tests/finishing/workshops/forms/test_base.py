from datetime import date

import pytest
from django import forms

from finishing.coatings.models import Layer
from finishing.workshops.forms.base import QuestionForm, WorkshopForm, as_uuid
from finishing.workshops.models import DayOff, Place
from tests.factories import CoatingFactory, LayerFactory

pytestmark = pytest.mark.django_db


class LayerForm(WorkshopForm):
    class Meta:
        model = Layer
        fields = ("position", "kind", "coating", "side", "dry_film", "thinning", "method", "minutes", "wait")


class HolidayForm(WorkshopForm):
    class Meta:
        model = DayOff
        fields = ("first",)


class PlaceForm(WorkshopForm):
    class Meta:
        model = Place
        fields = ("name", "kind", "held_at")


class AirForm(QuestionForm):
    place = forms.ModelChoiceField(Place.objects.all())
    when = forms.DateTimeField()


def test_a_form_offers_only_the_workshop_s_own_rows(workshop, other_workshop, primer):
    theirs = CoatingFactory(workshop=other_workshop)
    form = LayerForm({"kind": "coat", "coating": theirs.pk}, workshop=workshop)
    assert list(form.fields["coating"].queryset) == [primer]
    assert "Select a valid choice" in str(form.errors["coating"])


def test_a_question_offers_only_the_workshop_s_own_places_and_a_picker_for_the_time(workshop, other_workshop, yard):
    Place.objects.create(workshop=other_workshop, name="Elsewhere")
    form = AirForm(workshop=workshop)
    assert list(form.fields["place"].queryset) == [yard]
    assert 'type="datetime-local"' in str(form["when"])


def test_an_american_workshop_s_boxes_show_its_units(workshop, primer):
    workshop.units = "us"
    layer = LayerFactory(system__workshop=workshop, coating=primer, dry_film=50.8)
    layer.refresh_from_db()
    form = LayerForm(workshop=workshop, instance=layer)
    assert form.fields["dry_film"].printed == "mil"
    assert 'value="2"' in str(form["dry_film"])


def test_a_position_taken_twice_is_told_at_the_position(system, workshop, primer):
    layer = Layer(system=system)
    typed = {"position": 1, "kind": "coat", "coating": primer.pk, "side": "all", "method": "brush"}
    form = LayerForm({**typed, "minutes": "20", "wait": "0"}, workshop=workshop, instance=layer)
    assert "There is one with this position already" in str(form.errors["position"])


def test_an_error_at_a_box_that_is_not_shown_stands_above_the_form(workshop):
    day_off = DayOff(last=date(2026, 1, 1))
    form = HolidayForm({"first": "2026-02-01"}, workshop=workshop, instance=day_off)
    assert not form.is_valid()
    assert "before the first" in str(form.non_field_errors())


def test_what_was_typed_stays_and_the_box_points_to_its_error(workshop):
    form = PlaceForm({"name": "Den", "kind": "shop", "held_at": "warm"}, workshop=workshop)
    box = str(form["held_at"])
    assert 'value="warm"' in box
    assert 'aria-invalid="true"' in box
    assert "id_held_at_error" in box


def test_a_form_made_twice_finds_its_own_row(workshop, yard):
    form = PlaceForm({"id": str(yard.pk), "name": "Yard", "kind": "yard"}, workshop=workshop)
    assert form.is_valid(), form.errors
    assert form.repeated == yard


def test_a_form_without_an_id_makes_one(workshop):
    form = PlaceForm({"id": "nonsense", "name": "Den", "kind": "yard"}, workshop=workshop)
    assert form.is_valid(), form.errors
    assert form.save().pk


def test_an_edited_row_keeps_its_id_whatever_is_sent(workshop, yard, roof):
    form = PlaceForm({"id": str(roof.pk), "name": "Court", "kind": "yard"}, workshop=workshop, instance=yard)
    assert form.save().pk == yard.pk
    roof.refresh_from_db()
    assert roof.name == "Lean-to"


def test_an_id_is_read_or_there_is_none():
    assert as_uuid("nonsense") is None
    assert as_uuid(None) is None
    assert str(as_uuid("00000000-0000-0000-0000-000000000001")).endswith("1")


def test_an_empty_choice_says_what_it_means(workshop):
    """Instead of a row of dashes, of rows and of words alike."""

    class NamedForm(AirForm):
        kind = forms.ChoiceField(choices=[("", "---------"), ("a", "A")], required=False)

    boxes = NamedForm(workshop=workshop)
    assert [str(words) for _, words in boxes.fields["place"].choices][0] == "choose"
    assert boxes.fields["kind"].choices[0] == ("", "not chosen")
    assert LayerForm(workshop=workshop).fields["coating"].empty_label == "not chosen"
