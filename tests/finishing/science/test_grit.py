"""Media and metals: silica, grades, and what the trade knows of which medium suits what."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science import grit
from finishing.science.grit import ADVICE, GRADES, KINDS, SHAPES, STATES, TIGHT, choices, fit, silica_refusal
from finishing.science.nozzle import RIG_GIVES
from finishing.science.sources import SOURCES
from finishing.science.units import Quantity

EVERY = list(product(KINDS, ADVICE, STATES))
PAIRS = list(product(ADVICE, STATES))
IRON = ("grey iron", "ductile iron", "thin or cracked iron")


def percent(number):
    return Quantity(number, "percent")


@pytest.mark.parametrize("share", [0, 0.5, 1])
def test_up_to_one_per_cent_of_free_silica_may_be_blasted(share):
    """NIOSH asks for at most 1 % [NIOSH-SILICA]."""
    assert silica_refusal(percent(share)) is None


@pytest.mark.parametrize("share", [1.01, 5, 95])
def test_more_is_refused_with_the_reason(share):
    assert f"{share:g} %" in silica_refusal(percent(share))
    assert "lungs" in silica_refusal(percent(share))


def test_what_nobody_knows_is_refused():
    assert "not known" in silica_refusal(None)


def test_sand_is_refused_whatever_its_sheet_says():
    """UK law bars sand as such from the blasting of articles [COSHH-SILICA]."""
    assert "never" in grit.refusal("silica sand", percent(0.5))
    assert grit.refusal("crushed glass", percent(0.5)) is None


@pytest.mark.parametrize("metal", ["aluminium", "brass and bronze"])
def test_a_medium_of_which_nobody_knows_whether_it_leaves_iron_is_kept_off_what_iron_spoils(metal):
    assert fit("plastic", metal, "thick old paint").word == "suited"
    assert fit("plastic", metal, "thick old paint", leaves_iron=True).word == "avoid"
    assert "not known" in fit("plastic", metal, "thick old paint", leaves_iron=None).reason
    assert fit("garnet", "grey iron", TIGHT, leaves_iron=None).word == "suited"


@given(st.floats(0, 100))
def test_silica_is_refused_just_over_the_limit(share):
    assert (silica_refusal(percent(share)) is None) == (share <= 1)


def test_grades_carry_both_of_their_names():
    """As published side by side [CLEANLINESS]: stains on a third and on a twentieth."""
    assert {name: grade.sp for name, grade in GRADES.items()} == {
        "Sa 1": "SP 7",
        "Sa 2": "SP 6",
        "Sa 2½": "SP 10",
        "Sa 3": "SP 5",
    }
    factors = [grade.factor for grade in GRADES.values()]
    assert factors == sorted(factors, reverse=True), "the cleaner, the slower"


@pytest.mark.parametrize(("kind", "metal", "state"), EVERY, ids=lambda part: part)
def test_every_medium_has_a_word_a_reason_and_a_source_for_every_metal(kind, metal, state):
    answer = fit(kind, metal, state)
    assert answer.word in ("suited", "test patch", "avoid", "never")
    assert answer.reason
    assert answer.source in SOURCES


@pytest.mark.parametrize(("metal", "state"), PAIRS, ids=lambda part: part)
def test_every_metal_has_a_medium_and_sand_is_never_one(metal, state):
    found = choices(metal, state)
    assert found["suited"]
    assert [one.kind for one in found["never"]] == ["silica sand"]
    assert sum(map(len, found.values())) == len(KINDS)


@pytest.mark.parametrize(("metal", "state"), PAIRS, ids=lambda part: part)
def test_one_begins_low_and_never_passes_what_a_rig_gives(metal, state):
    start, most = grit.pressures(metal, state)
    assert Quantity(1, "bar") < start < most < RIG_GIVES


def test_only_tight_scale_on_sound_iron_is_worth_more_pressure():
    raised = {
        (metal, state) for metal, state in PAIRS if grit.pressures(metal, state)[1].magnitude > ADVICE[metal].most
    }
    assert raised == {("grey iron", TIGHT), ("ductile iron", TIGHT)}


def test_the_thinner_and_softer_the_metal_the_lower_the_pressure():
    most = {metal: advice.most for metal, advice in ADVICE.items()}
    assert most["thin or cracked iron"] < most["grey iron"] < most["steel plate"]
    assert max(most["steel sheet"], most["aluminium"], most["brass and bronze"]) < most["thin or cracked iron"]


@pytest.mark.parametrize("state", STATES.values(), ids=STATES)
def test_the_nozzle_stands_between_45_and_90_degrees(state):
    """80 to 90 for rust and scale, 60 to 70 for other dirt, slanting to peel thick paint [UFC-ANGLE]."""
    low, high = state.angle
    assert 45 <= low < high <= 90


# The facts of the trade: common practice, no source.


def test_cast_iron_has_its_whole_range_of_pressure_and_no_narrower_one():
    """From 2 bar, seldom over 5, for tight scale to 7 [common practice]; half way is likely for any medium."""
    assert [grit.pressures("grey iron", state)[1].magnitude for state in ("plain rust", TIGHT)] == [5, 7]
    assert grit.likely_pressure(*grit.pressures("grey iron", TIGHT)).magnitude == 4.5


@pytest.mark.parametrize("metal", [*IRON, "steel plate", "steel sheet"])
@pytest.mark.parametrize("state", [state for state in STATES if STATES[state].needs_cutting])
def test_bicarbonate_removes_no_rust_and_no_metal(metal, state):
    answer = fit("bicarbonate", metal, state)
    assert answer.word == "avoid"
    assert "no rust and no metal" in answer.reason


@pytest.mark.parametrize("state", STATES)
def test_bicarbonate_is_the_one_for_brass_and_bronze(state):
    assert choices("brass and bronze", state)["suited"][0].kind == "bicarbonate"


def test_a_light_powder_needs_more_feed_difference_than_glass():
    assert KINDS["bicarbonate"].feed_difference > KINDS["crushed glass"].feed_difference


def test_bead_and_aluminium_oxide_are_reused_and_crushed_glass_is_not():
    assert KINDS["glass bead"].reused
    assert KINDS["aluminium oxide"].reused
    assert not KINDS["crushed glass"].reused


@pytest.mark.parametrize("metal", IRON)
@pytest.mark.parametrize("state", STATES)
def test_bead_is_not_for_iron_that_will_be_painted(metal, state):
    assert fit("glass bead", metal, state).word == "avoid"


@pytest.mark.parametrize("metal", ["aluminium", "brass and bronze"])
@pytest.mark.parametrize("kind", [kind for kind in KINDS if KINDS[kind].leaves_iron])
def test_nothing_that_leaves_iron_goes_on_aluminium_or_brass(metal, kind):
    assert {fit(kind, metal, state).word for state in STATES} == {"avoid"}


def test_an_open_shape_takes_longer_than_a_flat_one():
    assert SHAPES["spokes or lattice"] < SHAPES["ribbed casting"] < SHAPES["flat"] == 1
