"""Boxes as people fill them in: places on earth; times on the workshop's clock, in nights in which it is moved too."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from finishing.workshops.forms.fields import MomentField, WhereField


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
