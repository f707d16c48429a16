"""Thinner, two-pack, pot life and the pots of one session."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science import mixing
from finishing.science.mixing import PotLifePoint, Recipe
from finishing.science.sources import SOURCES
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity

from .published import rows

HOLDING_PRIMER = [PotLifePoint(7, 48), PotLifePoint(20, 24), PotLifePoint(30, 8)]
temperatures = st.floats(-10, 60)


def litres(number):
    return Quantity(number, "L")


def hours(number):
    return Quantity(number, "hour")


def percent(number):
    return Quantity(number, "percent")


def life(degrees, points):
    return mixing.pot_life(Quantity(degrees, "degC"), points).to("hour").magnitude


@pytest.mark.parametrize("row", rows("pot_life"), ids=lambda row: f"{row['sheet']} {row['colder_c']}")
def test_ten_degrees_between_two_points_shorten_as_on_the_sheet(row):
    """The quotient for 10 °C, computed from the published pair, to its one decimal."""
    colder, warmer = float(row["colder_c"]), float(row["warmer_c"])
    points = [PotLifePoint(colder, float(row["colder_hours"])), PotLifePoint(warmer, float(row["warmer_hours"]))]
    assert life(colder, points) / life(colder + 10, points) == pytest.approx(float(row["quotient"]), abs=0.05)
    assert life(colder, points) == pytest.approx(points[0].hours)
    assert life(warmer, points) == pytest.approx(points[1].hours)


def test_a_single_point_halves_for_ten_degrees():
    """48 h at 10 °C is 24 h at 20 °C on a zinc phosphate epoxy sheet, maker withheld."""
    assert life(20, [PotLifePoint(10, 48)]) == pytest.approx(24)


def test_beyond_the_sheet_it_falls_as_fast_as_the_sheet_or_faster():
    assert life(40, HOLDING_PRIMER) == pytest.approx(8 / 3)  # 24 h → 8 h for the last ten degrees
    assert life(40, [PotLifePoint(10, 10), PotLifePoint(30, 9)]) == pytest.approx(4.5)  # too flat to be trusted


@given(temperatures, temperatures)
def test_warmer_never_keeps_longer(one, other):
    colder, warmer = sorted((one, other))
    assert life(warmer, HOLDING_PRIMER) <= life(colder, HOLDING_PRIMER) * (1 + 1e-12)


@given(temperatures)
def test_cold_never_lengthens_beyond_the_sheet(degrees):
    assert life(degrees, HOLDING_PRIMER) <= 48 * (1 + 1e-12)


def test_many_temperatures_equal_one_by_one_and_the_unknown_stays_unknown():
    degrees = np.array([5.0, 15, 25, 35, np.nan])
    together = mixing.pot_life(Quantity(degrees, "degC"), HOLDING_PRIMER).magnitude
    assert together[:4] == pytest.approx([life(one, HOLDING_PRIMER) for one in degrees[:4]])
    assert np.isnan(together[4])


@given(st.floats(0.01, 100), st.floats(0.1, 20), st.floats(0.1, 20))
def test_base_and_hardener_make_the_mix_in_their_parts(mixed, base_parts, hardener_parts):
    base, hardener = mixing.components(litres(mixed), base_parts, hardener_parts)
    assert (base + hardener).magnitude == pytest.approx(mixed)
    assert (base / hardener).magnitude == pytest.approx(base_parts / hardener_parts)


def test_thinner_and_additive_by_share():
    assert mixing.thinner_volume(litres(2), percent(15)).magnitude == pytest.approx(0.3)
    assert mixing.additive_volume(litres(2), percent(3)).to("mL").magnitude == pytest.approx(60)


@pytest.mark.parametrize(("paint", "kits"), [(0.1, 1), (5, 1), (5.01, 2), (15, 3)])
def test_a_kit_is_never_split(paint, kits):
    assert mixing.kits_for(litres(paint), litres(5)) == kits


def test_tenths_make_whole_kits():
    assert mixing.kits_for(sum([litres(0.1)] * 10), litres(1)) == 1


@given(st.floats(0.05, 40), st.floats(0.25, 10), st.floats(0.25, 24), st.none() | st.floats(0.5, 5))
def test_no_pot_outlasts_half_the_pot_life_unless_a_kit_is_too_big(paint, work, pot_life, kit):
    """Mix only what is used in half the pot life. Common practice, no source."""
    recipe = Recipe(parts=(4, 1), pot_life=hours(pot_life), kit=None if kit is None else litres(kit))
    session = mixing.mix_for_session(litres(paint), hours(work), recipe)
    mixed = [mix.paint.magnitude for mix in session.mixes]
    assert sum(mixed) == pytest.approx(paint + session.left_over.magnitude)
    if not session.kit_too_big:
        assert max(mixed) * work / paint <= pot_life / 2 * (1 + 1e-6)
    if kit is not None:
        assert all(pot / kit == pytest.approx(round(pot / kit)) for pot in mixed)
        assert session.left_over.magnitude < kit * (1 + 1e-6)


def test_a_weighed_two_pack_leaves_nothing_over():
    """3 L in 6 h with a pot life of 4 h: three pots of one litre, each gone in 2 h. By hand."""
    session = mixing.mix_for_session(litres(3), hours(6), Recipe(percent(10), parts=(3, 1), pot_life=hours(4)))
    assert [mix.paint.magnitude for mix in session.mixes] == pytest.approx([1, 1, 1])
    assert session.mixes[0].base.magnitude == pytest.approx(0.75)
    assert session.mixes[0].thinner.magnitude == pytest.approx(0.1)
    assert session.use_within == hours(2)
    assert session.left_over.magnitude == pytest.approx(0, abs=1e-9)


def test_a_kit_too_big_for_half_the_pot_life_is_said():
    """A 5 L kit used at 1 L an hour lasts 5 h; half the pot life is 2 h."""
    session = mixing.mix_for_session(litres(4), hours(4), Recipe(parts=(4, 1), pot_life=hours(4), kit=litres(5)))
    assert session.kit_too_big
    assert session.left_over.magnitude == pytest.approx(1)


def test_a_one_pack_is_decanted_once():
    session = mixing.mix_for_session(litres(0.8), hours(5), Recipe(thinning=percent(10), additive=percent(2)))
    (pot,) = session.mixes
    assert pot.base is None
    assert session.use_within is None
    assert (pot.thinner.magnitude, pot.additive.magnitude) == pytest.approx((0.08, 0.016))


def test_every_number_opens_its_working():
    workings = [
        mixing.thinner_working(litres(0.8), percent(10)),
        mixing.pot_life_working(Quantity(25, "degC"), HOLDING_PRIMER),
    ]
    assert [working.result for working in workings] == ["0.08 L", "13.9 h"]  # √(24·8) between 20 and 30 °C
    assert all(working.source in SOURCES and working.inputs for working in workings)


@pytest.mark.parametrize(
    ("ask", "named"),
    [
        (lambda: mixing.thinner_volume(litres(1), percent(-1)), "thinning"),
        (lambda: mixing.additive_volume(litres(1), percent(80)), "dose of additive"),
        (lambda: mixing.components(litres(1), 0, 1), "parts of base"),
        (lambda: mixing.components(litres(1), 4, 0), "parts of hardener"),
        (lambda: life(20, []), "number of pot life points"),
        (lambda: life(20, [PotLifePoint(20, 0)]), "pot life"),
        (lambda: life(20, [PotLifePoint(10, 4), PotLifePoint(20, 8)]), "pot life at 20 °C"),
        (lambda: life(20, [PotLifePoint(20, 8), PotLifePoint(20, 4)]), "temperature of the next pot life point"),
        (lambda: life(90, HOLDING_PRIMER), "temperature"),
        (lambda: mixing.mix_for_session(litres(0), hours(1), Recipe()), "paint"),
        (lambda: mixing.mix_for_session(litres(1), hours(0), Recipe()), "working time"),
        (lambda: mixing.mix_for_session(litres(1), hours(1), Recipe(pot_life=hours(0))), "pot life"),
        (lambda: mixing.mix_for_session(litres(1), hours(1), Recipe(kit=litres(0))), "kit size"),
    ],
)
def test_an_impossible_value_is_named(ask, named):
    with pytest.raises(OutsideValidity) as refusal:
        ask()
    assert refusal.value.name == named


def test_a_mix_that_stands_before_use_has_so_much_less_time_under_the_brush():
    """Half of 3 h of pot life, 30 min of which it stands (10 to 30 min, common practice; [UFC-INDUCTION] asks that it
    is met): an hour is left, so two hours of work want two pots, and not one and a half."""
    recipe = mixing.Recipe(parts=(4, 1), pot_life=Quantity(3, "hour"), induction=Quantity(30, "minute"))
    session = mixing.mix_for_session(Quantity(2, "L"), Quantity(2, "hour"), recipe)
    assert session.use_within.to("hour").magnitude == pytest.approx(1)
    assert session.stands == Quantity(30, "minute")
    assert [mix.paint.to("L").magnitude for mix in session.mixes] == pytest.approx([1, 1])


def test_a_mix_that_stands_half_its_pot_life_is_typed_wrongly():
    recipe = mixing.Recipe(parts=(4, 1), pot_life=Quantity(1, "hour"), induction=Quantity(30, "minute"))
    with pytest.raises(OutsideValidity, match="standing after mixing"):
        mixing.mix_for_session(Quantity(2, "L"), Quantity(2, "hour"), recipe)
