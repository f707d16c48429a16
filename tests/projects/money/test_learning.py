"""Learning curves against published tables, both readings, and what every curve must keep."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.money.learning import LearningModel, hours_for, hours_working

HUNDRED = Decimal(100)


def test_the_average_of_a_management_text():
    """[LEARNING-WRIGHT]: 100 h and 80 %; totals 100, 160, 256, 409.6 and 655.36 for 1, 2, 4, 8 and 16.

    For the pieces 9 to 16 the page prints 254.76; its own totals make 655.36 − 409.6 = 245.76.
    """
    totals = [hours_for(HUNDRED, Decimal(80), count, LearningModel.WRIGHT) for count in (1, 2, 4, 8, 16)]
    assert [round(total, 2) for total in totals] == [Decimal(x) for x in ("100", "160", "256", "409.6", "655.36")]
    increments = [hours_for(HUNDRED, Decimal(80), count, LearningModel.WRIGHT, count) for count in (1, 2, 4, 8)]
    assert [round(part, 2) for part in increments] == [Decimal(x) for x in ("60", "96", "153.6", "245.76")]


def test_the_table_of_units_at_80():
    """[LEARNING-TABLE], from memory: time of the 1st to the 10th unit, and of all so far, at 80 %."""
    units = ["1", ".8", ".7021", ".64", ".5956", ".5617", ".5345", ".512", ".4929", ".4765"]
    totals = ["1", "1.8", "2.5021", "3.1421", "3.7377", "4.2994", "4.8339", "5.3459", "5.8389", "6.3154"]
    for at, (unit, total) in enumerate(zip(units, totals, strict=True)):
        assert round(hours_for(Decimal(1), Decimal(80), 1, made_before=at), 4) == Decimal(unit)
        assert round(hours_for(Decimal(1), Decimal(80), at + 1), 4) == Decimal(total)


@pytest.mark.parametrize(
    ("percent", "count", "total"),
    [
        (85, 5, "4.0311"),
        (85, 8, "5.9358"),
        (85, 10, "7.1161"),
        (90, 5, "4.3392"),
        (90, 8, "6.5737"),
        (90, 10, "7.9945"),
    ],
)
def test_totals_at_85_and_90(percent, count, total):
    """[LEARNING-TABLE], from memory."""
    assert round(hours_for(Decimal(1), Decimal(percent), count), 4) == Decimal(total)


def test_the_two_readings_differ_and_the_next_eight_are_quicker():
    """Our own sums from the tables above: 20 · 5.9358 h, 20 · 8 · 8^b h, and units 9 to 16."""
    twenty, curve = Decimal(20), Decimal(85)
    assert round(hours_for(twenty, curve, 8), 2) == Decimal("118.72")
    assert round(hours_for(twenty, curve, 8, LearningModel.WRIGHT), 2) == Decimal("98.26")
    assert round(hours_for(twenty, curve, 8, made_before=8), 2) == Decimal("88.94")


def test_five_after_four_are_not_the_first_five():
    """6 h for the first ever, 90 %, 24 an hour: 537.64, where a batch that restarts is told at 624.84 [our own sum]."""
    six, curve = Decimal(6), Decimal(90)
    assert round(24 * hours_for(six, curve, 5, made_before=4), 2) == Decimal("537.64")
    assert round(24 * hours_for(six, curve, 5), 2) == Decimal("624.84")


percents = st.decimals(50, 100, places=1)


@given(percents, st.sampled_from(LearningModel), st.integers(1, 300), st.integers(1, 300))
def test_two_batches_take_as_long_as_one_of_both(percent, reading, first, second):
    whole = hours_for(HUNDRED, percent, first + second, reading)
    parts = hours_for(HUNDRED, percent, first, reading) + hours_for(HUNDRED, percent, second, reading, first)
    assert abs(whole - parts) < Decimal("1e-9")


@given(percents, st.sampled_from(LearningModel), st.integers(1, 500))
def test_one_more_takes_no_less_time_and_no_longer_each(percent, reading, count):
    less, more = (hours_for(HUNDRED, percent, number, reading) for number in (count, count + 1))
    hair = Decimal("1e-9")
    assert more >= less - hair
    assert more / (count + 1) <= less / count + hair


@given(st.sampled_from(LearningModel), st.integers(1, 500))
def test_without_learning_each_takes_as_long_as_the_first(reading, count):
    assert hours_for(Decimal("0.25"), HUNDRED, count, reading) == count * Decimal("0.25")


@pytest.mark.parametrize("percent", ["0", "49.9", "100.1", "NaN"])
def test_a_curve_that_cannot_be_is_refused(percent):
    with pytest.raises(ValueError, match="learning curve"):
        hours_for(HUNDRED, Decimal(percent), 5)


@pytest.mark.parametrize(("count", "before"), [(0, 0), (1, -1), (20_001, 0)])
def test_a_number_of_pieces_that_cannot_be_is_refused(count, before):
    with pytest.raises(ValueError, match="pieces after"):
        hours_for(HUNDRED, Decimal(80), count, made_before=before)


def test_the_working_says_which_reading_was_taken():
    working = hours_working(Decimal(20), Decimal(85), 8)
    assert dict(working.inputs)["learning"] == "85 % of the unit"
    assert working.result == "118.72 h"
