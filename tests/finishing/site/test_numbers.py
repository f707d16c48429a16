"""Numbers and sums in the ways in which people write them. Digit groups and decimal signs: CLDR (from memory)."""

import contextlib
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from finishing.site.fields import SPELLINGS, read_quantity
from finishing.site.numbers import NoNumber, read_money, read_number


@pytest.mark.parametrize(
    ("typed", "number", "behind"),
    [
        ("241", "241", ""),
        ("1,250.50", "1250.50", ""),  # English
        ("1.250,50", "1250.50", ""),  # German
        ("1 250,50", "1250.50", ""),  # French, with any of the spaces
        ("1\u202f250,50", "1250.50", ""),
        ("1’250.50", "1250.50", ""),  # Swiss
        ("1,250,000", "1250000", ""),
        ("1.250.000", "1250000", ""),
        ("1 250 000 kg", "1250000", "kg"),
        ("12,5", "12.5", ""),
        ("0,125 L", "0.125", "L"),
        ("1.250", "1.250", ""),  # as every form of ours shows it
        (".5", "0.5", ""),
        ("5.", "5", ""),
        ("−5 °C", "-5", "°C"),
        ("–5", "-5", ""),
        ("+5", "5", ""),
        ("2 1/4 in", "2.25", "in"),
        ("2-1/4 in", "2.25", "in"),
        ("2¼in", "2.25", "in"),
        ("-2 ½", "-2.5", ""),
        ("⅜", "0.375", ""),
        ("7/8 in", "0.875", "in"),
        ("21/4", "5.25", ""),
        ("20C", "20", "C"),
    ],
)
def test_a_number_is_read_and_what_stands_behind_it(typed, number, behind):
    assert read_number(typed) == (Decimal(number), behind)


@pytest.mark.parametrize("typed", ["", "thick", "1 2", "1.2.3", "1,25,000", "1,,2", "--5", "inf", "5 , 6", "3 9/4"])
def test_what_is_no_number_is_not_guessed(typed):
    with pytest.raises(NoNumber):
        read_number(typed)


def test_a_comma_that_may_be_either_is_asked_for_where_nobody_knows():
    with pytest.raises(ValidationError, match="1250 or as 1.250: write the one that you mean"):
        read_number("1,250")
    assert read_number("1,250", comma_is_point=False)[0] == 1250
    assert read_number("1,250", comma_is_point=True)[0] == Decimal("1.250")
    assert read_number("-1,250", comma_is_point=False)[0] == -1250


def test_nothing_is_divided_by_nothing():
    with pytest.raises(ValidationError, match="divides by nothing"):
        read_number("3/0")


@pytest.mark.parametrize(
    ("typed", "unit", "number"),
    [
        ("20C", "°C", 20),
        ("20 °C", "°C", 20),
        ("20 deg C", "°C", 20),
        ("20 celsius", "°C", 20),
        ("68 F", "°C", 20),
        ("68 degrees F", "°C", 20),
        ("5.4 fahrenheit", "delta°C", 3),
        ("35 psi", "bar", 2.413165),  # a pound-force on a square inch is 6,894.757 Pa
        ("35 PSI", "bar", 2.413165),
        ("2 1/4 in", "mm", 57.15),
        ("2¼ in", "mm", 57.15),
        ('2¼"', "mm", 57.15),
        ("2¼ inches", "mm", 57.15),
        ("6'", "m", 1.8288),
        ("10 sq. ft", "m²", 0.9290304),
        ("5 m^2", "m²", 5),
        ("1,250.50 kg", "kg", 1250.5),
        ("1.250,50 kg", "kg", 1250.5),
        ("3 Pounds", "kg", 1.36077711),
        ("2 hrs", "min", 120),
    ],
)
def test_a_quantity_is_read_with_its_unit_as_people_spell_it(typed, unit, number):
    assert read_quantity(typed, unit, unit) == pytest.approx(number, rel=1e-6)


def test_what_was_not_understood_is_told_in_the_words_typed():
    with pytest.raises(ValidationError, match="“a bit” is not understood"):
        read_quantity("a bit", "mm", "mm")
    with pytest.raises(ValidationError, match="“furlong” is not a unit known here; use mm"):
        read_quantity("2 1/4 furlong", "mm", "mm")


def test_no_two_spellings_differ_by_case_alone_and_mean_unlike_units():
    meant = {}
    for spelling, unit in SPELLINGS.items():
        meant.setdefault(spelling.casefold(), set()).add(unit)
    assert [names for names in meant.values() if len(names) > 1] == []


@pytest.mark.parametrize("typed", ["241", "£241", "£ 241.00", "241 £", "241 GBP", "gbp 241", "GBP241"])
def test_a_sum_is_read_with_or_without_its_money(typed):
    assert read_money(typed, "GBP") == 241


@pytest.mark.parametrize(
    ("typed", "currency", "amount"),
    [
        ("€ 1.250,50", "EUR", "1250.50"),
        ("1 250,50 €", "EUR", "1250.50"),
        ("$1,250.50", "USD", "1250.50"),
        ("$5", "CAD", "5"),
        ("US$5", "USD", "5"),
        ("-£5", "GBP", "-5"),
        ("£-5", "GBP", "-5"),
        ("7", "", "7"),
    ],
)
def test_a_sum_is_read_in_the_money_of_its_box(typed, currency, amount):
    assert read_money(typed, currency) == Decimal(amount)


@pytest.mark.parametrize(
    ("typed", "currency", "said"),
    [
        ("€5", "GBP", "This box is in GBP: write the number without “€”"),
        ("5 USD", "GBP", "without “USD”"),
        ("$5", "GBP", "without “\\$”"),
        ("£5", "", "What money this is, is said elsewhere"),
        ("5 quid", "GBP", "“quid” is not understood"),
        ("£5 €", "GBP", "without “€”"),
    ],
)
def test_other_money_is_never_taken_for_the_box_s_own(typed, currency, said):
    with pytest.raises(ValidationError, match=said):
        read_money(typed, currency)


@given(st.text(alphabet="0123456789.,' /¼⅜-−+£€$kgGBP\u00a0", max_size=40))
def test_any_text_is_a_finite_number_or_an_error(text):
    for comma in (None, True, False):
        with contextlib.suppress(ValidationError, NoNumber):
            assert read_number(text, comma)[0].is_finite()
        with contextlib.suppress(ValidationError, NoNumber):
            assert read_money(text, "GBP", comma).is_finite()


@given(st.decimals(allow_nan=False, allow_infinity=False, places=2, min_value=-(10**9), max_value=10**9))
def test_a_sum_is_read_back_however_it_is_grouped(amount):
    english = f"{amount:,}"
    german = english.translate(str.maketrans(",.", ".,"))
    assert read_money(f"£{english}" if amount >= 0 else english, "GBP", comma_is_point=False) == amount
    assert read_number(german)[0] == amount
