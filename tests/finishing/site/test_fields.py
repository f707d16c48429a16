"""Typed text to a number in the column's unit and back. Conversion factors are exact by definition (inch, foot,
pound, US gallon: NIST SP 811, appendix B; from memory)."""

import contextlib
import math

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from finishing.coatings.models import Layer
from finishing.science.units import Quantity
from finishing.site.fields import (
    COLUMN_UNITS,
    SPELLINGS,
    QuantityField,
    QuantityFormField,
    convert,
    printed_unit,
    read_quantity,
    shown_unit,
    tidy,
)
from tests import factories


@pytest.mark.parametrize(
    ("typed", "unit", "assumed", "number"),
    [
        ("75", "µm", "µm", 75),
        ("75 µm", "µm", "µm", 75),
        ("75um", "µm", "µm", 75),
        ("75 microns", "µm", "µm", 75),
        ("3 mil", "µm", "µm", 76.2),  # an inch is 25.4 mm
        ("3", "µm", "mil", 76.2),
        ("0,5", "L", "L", 0.5),
        ("0,125", "L", "L", 0.125),
        ("1,25", "kg/L", "kg/L", 1.25),
        (".5 l", "L", "L", 0.5),
        ("5.", "L", "L", 5),
        ("1 gal", "L", "gal", 3.785411784),  # a US gallon is 231 cubic inches
        ("1 qt", "L", "gal", 0.946352946),
        ("1 US gal", "L", "L", 3.785411784),
        ("1 imp. gal", "L", "L", 4.54609),  # by the Weights and Measures Act 1985 and its schedule
        ("2 pt", "L", "imp gal", 1.1365225),  # an eighth of it each
        ("10 lb/gal", "kg/L", "lb/imp gal", 0.99776372),
        ("2", "L", "imp gal", 9.09218),
        ("10 ft²", "m²", "m²", 0.9290304),
        ("10 sq ft", "m²", "m²", 0.9290304),
        ("1 lb", "kg", "kg", 0.45359237),
        ("50", "°C", "°F", 10),
        ("50 F", "°C", "°C", 10),
        ("-40 °F", "°C", "°C", -40),
        ("−5", "°C", "°C", -5),
        ("273.15 K", "°C", "°C", 0),
        ("3", "delta°C", "delta°C", 3),
        ("5.4 °F", "delta°C", "delta°C", 3),  # a difference: no 32 to take away
        ("5.4", "delta°C", "delta°F", 3),
        ("2 days", "h", "h", 48),
        ("90 min", "h", "h", 1.5),
        ("10 min/ft²", "min/m²", "min/m²", 107.639104),
        ("1 kg/L", "kg/L", "lb/gal", 1),
        ("100 psi", "bar", "bar", 6.894757),
        ("45 %", "%", "%", 45),
        ("105 cfm", "m³/min", "m³/min", 2.973269),
        ("85 lb/ft³", "kg/m³", "kg/m³", 1361.569),
        ("1.36 kg/L", "kg/m³", "lb/ft³", 1360),
        ("5 lb/ft²", "kg/m²", "kg/m²", 24.41214),
        ("  12.5  ", "", "", 12.5),
    ],
)
def test_what_people_type_becomes_a_number_in_the_column_s_unit(typed, unit, assumed, number):
    assert read_quantity(typed, unit, assumed) == pytest.approx(number, rel=1e-6)


@pytest.mark.parametrize(
    ("typed", "unit", "said"),
    [
        ("thick", "µm", "Give a number"),
        ("", "µm", "Give a number"),
        ("1e5", "µm", "not a unit known here"),
        ("9**9**2", "µm", "not a unit known here"),
        ("75 furlong", "µm", "not a unit known here"),
        ("75 kg", "µm", "measures something else"),
        ("75 °C", "µm", "measures something else"),
        ("5 µm", "delta°C", "not a unit known here"),
        ("5 %", "", "bare number"),
        ("1 2", "µm", "Give a number"),
        ("1.2.3", "µm", "Give a number"),
        ("--3", "°C", "Give a number"),
        ("1,500", "m²", "1500 or as 1.500"),
        ("-12,000 ft", "m", "-12000 or as -12.000"),
        ("inf", "µm", "Give a number"),
        ("nan", "µm", "Give a number"),
    ],
)
def test_what_is_no_quantity_is_refused_in_words(typed, unit, said):
    with pytest.raises(ValidationError, match=said):
        read_quantity(typed, unit, unit)


@given(st.text(max_size=40))
def test_any_text_is_a_finite_number_or_an_error(text):
    for unit in COLUMN_UNITS:
        with contextlib.suppress(ValidationError):
            assert math.isfinite(read_quantity(text, unit, unit))


numbers = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False).map(lambda number: float(f"{number:.5g}"))


@given(numbers, st.sampled_from(COLUMN_UNITS), st.sampled_from(["metric", "us", "imperial"]))
def test_what_a_form_shows_it_reads_back(number, unit, measures):
    field = QuantityFormField(unit=unit, measures=measures)
    kept = Quantity(number, SPELLINGS[unit])
    again = field.clean(field.prepare_value(kept))
    # six digits are shown; near absolute zero of a scale the digits are those of the shown number
    assert float(again.magnitude) == pytest.approx(number, rel=2e-5, abs=2e-3)


@given(numbers)
def test_tidy_writes_no_exponent_and_no_needless_zero(number):
    text = tidy(number, 6)
    assert "e" not in text
    assert not ("." in text and text.endswith("0"))
    assert float(text) == pytest.approx(number, rel=1e-5, abs=1e-12)


@pytest.mark.parametrize("typed", ["1 gal", "1 pint", "9 lb/gal"])
def test_a_gallon_in_a_box_of_litres_is_asked_whose_it_is(typed):
    unit = "kg/L" if "lb" in typed else "L"
    with pytest.raises(ValidationError, match="a fifth more in Britain: write “US” or “imp”"):
        read_quantity(typed, unit, unit)


@pytest.mark.parametrize("measures", ["us", "imperial"])
@pytest.mark.parametrize("unit", COLUMN_UNITS)
def test_every_column_s_unit_has_a_spelling_and_a_way_to_other_measures_and_back(unit, measures):
    shown = shown_unit(unit, measures)
    assert convert(convert(7.0, unit, shown), shown, unit) == pytest.approx(7.0)


def test_a_range_is_told_in_the_unit_that_is_shown():
    field = QuantityFormField(unit="µm", measures="us", minimum=25.4, maximum=254)
    assert field.clean("2").magnitude == pytest.approx(50.8)
    with pytest.raises(ValidationError, match="between 1 mil and 10 mil"):
        field.clean("11")


@pytest.mark.parametrize(("limits", "said"), [({"minimum": 1}, "1 L or more"), ({"maximum": -1}, "−1 L or less")])
def test_a_range_open_at_one_side_names_the_other(limits, said):
    with pytest.raises(ValidationError, match=said):
        QuantityFormField(unit="L", **limits).clean("0")


def test_an_empty_box_is_not_known_and_not_nothing():
    assert QuantityFormField(unit="L", required=False).clean("") is None
    with pytest.raises(ValidationError):
        QuantityFormField(unit="L").clean("")


def test_a_temperature_difference_is_printed_like_a_temperature():
    assert printed_unit(shown_unit("delta°C", measures="us")) == "°F"


def test_a_column_keeps_numbers_in_its_own_unit_and_gives_quantities():
    column = QuantityField(unit="µm")
    assert column.get_prep_value(Quantity(3, "mil")) == pytest.approx(76.2)
    assert column.to_python("76.2").to("mil").magnitude == pytest.approx(3)
    assert column.to_python(None) is None


@pytest.mark.django_db
def test_a_number_read_becomes_a_quantity_only_when_somebody_asks():
    factories.LayerFactory(dry_film=76.2)
    row = Layer.objects.get()
    assert vars(row)["dry_film"] == 76.2
    assert row.dry_film.to("mil").magnitude == pytest.approx(3)
    assert row.dry_film is row.dry_film
    assert row.thinning is None
    assert Layer.objects.values_list("dry_film", flat=True).get() == 76.2
    assert Layer.objects.only("pk").get().dry_film == Quantity(76.2, "µm")  # read when asked for, then a Quantity too


def test_a_number_put_into_a_column_is_in_the_column_s_unit():
    row = Layer(dry_film=76.2)
    assert row.dry_film == Quantity(76.2, "µm")
    row.dry_film = Quantity(3, "mil")
    assert row.dry_film == Quantity(3, "mil")
