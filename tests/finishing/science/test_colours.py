"""Contrast and colour difference against published pairs, and a surface repainted against what paint does."""

import numpy as np
import pytest
from coloraide import Color

from finishing.science import colours
from finishing.science.colours import Tellable
from finishing.science.validity import OutsideValidity

from .published import rows


@pytest.mark.parametrize("row", rows("contrast"), ids=lambda row: f"{row['one']} {row['other']}")
def test_contrast_agrees_with_quoted_pairs(row):
    assert colours.contrast(row["one"], row["other"]) == pytest.approx(float(row["contrast"]), abs=0.0006)
    assert colours.contrast(row["other"], row["one"]) == colours.contrast(row["one"], row["other"])


def test_contrast_agrees_with_an_independent_library():
    for one, other in (("#2f5a44", "#e6cf8f"), ("#26364a", "#3f5470"), ("#010203", "#0a0b0c")):
        assert colours.contrast(one, other) == pytest.approx(
            Color(one).contrast(Color(other), method="wcag21"), rel=1e-4
        )


@pytest.mark.parametrize("row", rows("colour_difference"), ids=lambda row: row["difference"])
def test_colour_difference_agrees_with_the_pairs_of_sharma_wu_and_dalal(row):
    one, other = (
        f"color(--lab-d65 {row[f'lightness_{n}']} {row[f'a_{n}']} {row[f'b_{n}']})" for n in (1, 2)
    )  # fmt: skip
    assert colours.difference(one, other) == pytest.approx(float(row["difference"]), abs=0.00006)


def test_two_colours_are_told_apart_in_steps():
    assert colours.tellable("#26364a", "#26364a") is Tellable.ALIKE
    assert colours.tellable("#26364a", "#29394e") is Tellable.HARDLY
    assert colours.tellable("#26364a", "#2f5a44") is Tellable.YES


def test_capitals_are_read_as_far_as_sign_rules_say():
    """5 m asks for 49.3 mm by the rule of signs [SIGN-LETTERS]."""
    assert colours.legibility("#ffffff", "#000000", 49.26).reads_until == pytest.approx(5, abs=0.01)


def test_weak_contrast_reads_only_while_letters_look_large_and_too_weak_not_at_all():
    large_only = colours.legibility("#949494", "#ffffff", 10)  # 3.03
    assert large_only.enough_when_large
    assert not large_only.enough
    assert large_only.reads_until == pytest.approx(min(1.83 * 10 / 16, 10 / 6.25))
    assert colours.legibility("#959595", "#ffffff", 10).reads_until is None  # 2.995
    assert colours.legibility("#ffffff", "#000000").reads_until is None  # how high they are is not known
    with pytest.raises(OutsideValidity):
        colours.legibility("#ffffff", "#000000", 4)


def test_what_is_no_colour_is_refused():
    with pytest.raises(ValueError, match="not a valid color"):
        colours.contrast("#ffffff", "green-ish")


def lit(colour, light):
    """A surface of one paint under uneven light."""
    paint = np.array(Color(colour).convert("srgb-linear").coords())
    linear = np.clip(paint * np.asarray(light)[..., None], 0, 1)
    encoded = np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.clip(encoded, 0, 1) * 255


LIGHT = np.linspace(0.5, 1.2, 50).reshape(5, 10)  # the middle of it is 0.85


@pytest.mark.parametrize(("old", "new"), [("#8a9a5b", "#2f5a44"), ("#b0b4b8", "#26364a"), ("#c8b890", "#7a2d24")])
def test_a_repainted_surface_looks_as_the_new_paint_would_under_that_light(old, new):
    seen = colours.repainted(lit(old, LIGHT), np.ones(LIGHT.shape), new)
    assert np.abs(seen - lit(new, LIGHT / 0.85)).max() < 6  # of 255


def test_a_light_paint_keeps_its_shape_and_does_not_burn_out():
    seen = colours.repainted(lit("#26364a", LIGHT), np.ones(LIGHT.shape), "#e6cf8f") @ [0.2126, 0.7152, 0.0722]
    assert (np.diff(seen.ravel()) > 0).all()
    assert seen.max() < 255


def test_what_is_not_marked_stays_as_it_was_and_a_glint_stays_white():
    photo = lit("#8a9a5b", LIGHT)
    photo[0, 0] = 255
    share = np.ones(LIGHT.shape)
    share[:, 5:] = 0
    seen = colours.repainted(photo, share, "#26364a")
    assert np.abs(seen[:, 5:] - photo[:, 5:]).max() < 1e-6
    assert seen[0, 0].min() > 150
    assert seen[1, 1].max() < 110


def test_nothing_marked_leaves_the_photo():
    photo = lit("#8a9a5b", LIGHT)
    assert (colours.repainted(photo, np.zeros(LIGHT.shape), "#26364a") == photo).all()


def test_the_tone_splits_letters_from_body_and_a_flat_picture_does_not_fail():
    body, letters = np.random.default_rng(4).normal(0.3, 0.03, 900), np.random.default_rng(5).normal(0.6, 0.03, 100)
    split = colours.tone_split(np.concatenate([body, letters]))
    assert 0.4 < split < 0.52
    assert colours.tone_split(np.full(9, 0.4)) == pytest.approx(0.5)


def test_workings_print_what_is_told():
    assert colours.contrast_working("#ffffff", "#767676").result == "4.54"
    assert colours.reading_working("#959595", "#ffffff", 20).result == "not by colour alone"
    assert "hardly" in colours.tellable_working("#26364a", "#29394e").result
