"""The faces of raised letters, against the outlines of an open typeface."""

import string

import font_roboto
import pytest
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

from finishing.science.letters import face_area, letters_in
from finishing.science.validity import OutsideValidity


def outlines(font, height):
    """mm² of A to Z of capitals so high, and how wide the stroke of its I is."""
    face = TTFont(getattr(font_roboto, font))
    glyphs, names, scale = face.getGlyphSet(), face.getBestCmap(), height / face["OS/2"].sCapHeight
    area = 0.0
    for letter in string.ascii_uppercase:
        pen = AreaPen(glyphs)
        glyphs[names[ord(letter)]].draw(pen)
        area += abs(pen.value) * scale**2
    stem = BoundsPen(glyphs)
    glyphs[names[ord("I")]].draw(stem)
    return area, (stem.bounds[2] - stem.bounds[0]) * scale


@pytest.mark.parametrize("font", ["RobotoLight", "Roboto", "RobotoMedium", "RobotoBold"])
def test_faces_with_a_stroke_are_those_of_the_alphabet_whether_light_or_bold(font):
    area, stroke = outlines(font, 40.0)
    assert face_area(26, 40.0, stroke) == pytest.approx(area, rel=0.07)


def test_without_a_stroke_they_are_those_of_ordinary_letters():
    assert face_area(26, 40.0) == pytest.approx(outlines("Roboto", 40.0)[0], rel=0.05)


@pytest.mark.parametrize("wrong", [(0, 40.0), (5, 4.0), (5, 600.0), (5, 40.0, 21.0)])
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(OutsideValidity):
        face_area(*wrong)


def test_blanks_and_the_stroke_between_lines_are_not_cast():
    assert letters_in("A & B / C") == 4
    assert letters_in("") == 0
