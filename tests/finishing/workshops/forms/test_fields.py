"""Boxes as people fill them in: places on earth; times on the workshop's clock, in nights in which it is moved too."""

from datetime import UTC, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from finishing.workshops.forms.fields import MomentField, NumberField, PriceField, WhereField


@pytest.mark.parametrize("typed", ["91, 5", "52 75 N 1 54 W", "inf, nan", "Nowhere in Particular", "Springfield"])
def test_what_is_no_one_place_on_earth_is_refused(typed):
    with pytest.raises(forms.ValidationError):
        WhereField().clean(typed)


def test_a_place_is_a_town_or_coordinates_or_left_for_later():
    assert WhereField(required=False).clean("") is None
    assert WhereField().clean("52.4; 1.9 W").town.country == "United Kingdom"
    assert WhereField().clean("Ludlow, GB").latitude == pytest.approx(52.4, abs=0.1)


LONDON = ZoneInfo("Europe/London")


def read(text, zone=LONDON):
    with timezone.override(zone):
        moment = MomentField().clean(text)
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="minutes")


def test_it_is_read_on_the_workshops_clock():
    assert read("2026-05-12T10:20") == "2026-05-12T09:20"
    assert read("2026-05-12T10:20", ZoneInfo("Asia/Kolkata")) == "2026-05-12T04:50"


@pytest.mark.parametrize(("now", "meant"), [("00:40", "00:30"), ("01:40", "01:30"), ("09:00", "01:30")])
def test_an_hour_that_clocks_pass_twice_is_its_later_pass_once_that_has_come(now, meant):
    with time_machine.travel(f"2026-10-25T{now}Z", tick=False):
        assert read("2026-10-25T01:30") == f"2026-10-25T{meant}"


def test_an_hour_that_clocks_skip_is_refused_in_words():
    with pytest.raises(ValidationError, match="There is no 01:30 on that day: clocks go forward over it"):
        read("2026-03-29T01:30")


@pytest.mark.parametrize("text", ["yesterday", "2026-13-40T10:20", "0001-01-01T00:00", "9999-12-31T23:59"])
def test_no_text_breaks_it(text):
    try:
        moment = MomentField().clean(text)
    except ValidationError:
        return
    assert isinstance(moment, datetime)


def forms_of_the_site(kind=forms.BaseForm):
    for own in kind.__subclasses__():
        yield own
        yield from forms_of_the_site(own)


def test_every_number_of_a_form_is_read_as_people_write_it(client):
    client.get("/calculators/")  # so that all pages are loaded
    number, own = (forms.DecimalField, forms.FloatField), (PriceField, NumberField)
    boxes = [(form, box) for form in set(forms_of_the_site()) for box in getattr(form, "base_fields", {}).items()]
    plain = [f"{form.__name__}.{name}" for form, (name, box) in boxes if isinstance(box, number)
             and not isinstance(box, own) and form.__module__.startswith(("finishing.", "projects."))]  # fmt: skip
    assert plain == []


@pytest.mark.parametrize(
    ("printed", "typed", "amount"),
    [("GBP", "£1,250.50", "1250.50"), ("EUR/kg", "1.250,50 €", "1250.50"), ("%", "12,5 %", "12.5"), ("", "7", "7")],
)
def test_a_sum_is_typed_with_what_is_printed_beside_its_box(printed, typed, amount):
    box = PriceField()
    box.printed = printed
    assert box.clean(typed) == Decimal(amount)


@pytest.mark.parametrize(("box", "typed"), [(PriceField(), "a lot"), (NumberField(), "some"), (NumberField(), "5 kg")])
def test_what_a_box_did_not_understand_is_told_as_typed(box, typed):
    with pytest.raises(ValidationError, match=f"“{typed.removeprefix('5 ')}” is not understood"):
        box.clean(typed)


def test_a_comma_between_thousands_is_read_as_the_workshop_s_money_writes_it(workshop):
    workshop.currency = "GBP"
    assert workshop.comma_is_point is False
    workshop.currency, workshop.units = "EUR", "metric"
    assert workshop.comma_is_point is None
