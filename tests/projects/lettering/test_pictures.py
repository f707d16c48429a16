"""A photo in other colours: letters found by tone or as brushed; and hostile marks."""

import base64
import zlib
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from projects.lettering.images import BODY, LETTERS, NotAMask, colour_of_lid, read_mask
from projects.lettering.pictures import Look, found_split, mask_to_draw, picture, size_of
from projects.record.models import TryOut
from tests import factories

pytestmark = pytest.mark.django_db

LETTER, PLATE, WALL = (150, 160, 150), (60, 80, 70), (220, 215, 205)


def plate_photo():
    """A wall, a plate on it, a letter on the plate."""
    photo = Image.new("RGB", (120, 80), WALL)
    photo.paste(PLATE, (20, 10, 100, 70))
    photo.paste(LETTER, (50, 25, 70, 55))
    sent = BytesIO()
    photo.save(sent, "PNG")
    return sent.getvalue()


def png(array):
    sent = BytesIO()
    Image.fromarray(array).save(sent, "PNG")
    return sent.getvalue()


def text(sent):
    return base64.b64encode(sent).decode()


def inked(red=None, blue=None):
    """Marks as a browser sends them."""
    inks = np.zeros((80, 120, 4), np.uint8)
    if blue:
        left, top, right, bottom = blue
        inks[top:bottom, left:right] = (0, 60, 255, 255)
    if red:
        left, top, right, bottom = red
        inks[top:bottom, left:right] = (255, 40, 0, 255)
    return png(inks)


@pytest.fixture
def try_out(workshop):
    step = factories.StepFactory(piece=factories.PieceFactory(part__design__workshop=workshop))
    return factories.TryOutFactory(photo=factories.photo_of(step, plate_photo()))


def seen(try_out, **colours):
    look = Look.of(try_out, factories.CandidateFactory.build(try_out=try_out, workshop=try_out.workshop, **colours))
    return np.asarray(Image.open(BytesIO(picture(look))).convert("RGB"), dtype=int)


def near(pixel, colour):
    return np.abs(pixel - np.array(colour)).max() < 14  # what a JPEG does to flat colours, and no more


def test_letters_are_found_by_tone_on_the_face_that_is_brushed(try_out):
    try_out.mask = read_mask(text(inked(blue=(22, 12, 98, 68))))
    shown = seen(try_out, letters="#e6cf8f", body="#26364a")
    assert near(shown[40, 60], (0xE6, 0xCF, 0x8F))
    assert near(shown[40, 30], (0x26, 0x36, 0x4A))
    assert near(shown[5, 5], WALL)


def test_a_broad_finger_does_not_make_letters_of_the_wall(try_out):
    try_out.mask = read_mask(text(inked(blue=(14, 4, 106, 76))))  # over the plate's edge
    shown = seen(try_out, letters="#e6cf8f", body="#26364a")
    assert near(shown[7, 60], WALL)
    assert near(shown[40, 60], (0xE6, 0xCF, 0x8F))


def test_a_face_in_shadow_is_neither_letters_nor_left_out(workshop):
    photo = Image.new("RGB", (120, 80), (200, 30, 30))
    photo.paste((100, 14, 14), (0, 0, 40, 80))  # the same paint in shadow
    photo.paste((25, 25, 25), (60, 25, 80, 55))
    sent = BytesIO()
    photo.save(sent, "PNG")
    step = factories.StepFactory(piece=factories.PieceFactory(part__design__workshop=workshop))
    try_out = factories.TryOutFactory(photo=factories.photo_of(step, sent.getvalue()), letters_are="darker")
    try_out.mask = read_mask(text(inked(blue=(10, 10, 110, 70))))
    shown = seen(try_out, letters="#e6cf8f", body="#2f5a44")
    red, green, _ = shown[40, 20]
    assert green > 1.5 * red
    assert near(shown[40, 70], (0xE6, 0xCF, 0x8F))


def test_with_nothing_brushed_the_whole_photo_is_split_by_tone(try_out):
    shown = seen(try_out, letters="#e6cf8f", body="#26364a")
    assert near(shown[40, 30], (0x26, 0x36, 0x4A))
    assert not near(shown[5, 5], WALL)


def test_letters_as_brushed_and_a_body_left_as_it_is(try_out):
    try_out.mask = read_mask(text(inked(blue=(22, 12, 98, 68), red=(50, 25, 70, 55))))
    try_out.letters_are = TryOut.LettersAre.BRUSHED
    shown = seen(try_out, letters="#a01818", body="")
    assert near(shown[40, 60], (0xA0, 0x18, 0x18))
    assert near(shown[40, 30], PLATE)


def test_a_split_that_is_typed_wins_over_the_one_that_is_found(try_out):
    try_out.mask = read_mask(text(inked(blue=(22, 12, 98, 68))))
    assert 0.4 < found_split(Look.of(try_out)) < 0.7  # between plate and letter
    try_out.split = 0.95  # nothing is as light
    assert near(seen(try_out, letters="#e6cf8f", body="")[40, 60], LETTER)


def test_kept_marks_come_back_to_be_brushed_on(try_out):
    try_out.mask = read_mask(text(inked(blue=(22, 12, 98, 68), red=(50, 25, 70, 55))))
    again = mask_to_draw(try_out)
    assert Image.open(BytesIO(again)).size == size_of(try_out) == (120, 80)
    assert read_mask(text(again)) == try_out.mask
    marks = np.asarray(Image.open(BytesIO(base64.b64decode(try_out.mask))))
    assert (marks[40, 60], marks[40, 30], marks[5, 5]) == (LETTERS, BODY, 0)
    assert read_mask(text(inked())) == ""


def bomb():
    """A PNG that says 50,000 × 50,000 pixels."""

    def chunk(name, data):
        return len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4, "big")

    head = (50_000).to_bytes(4, "big") * 2 + bytes([8, 6, 0, 0, 0])
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    )


HOSTILE = {
    "empty": b"",
    "rubbish": b"rubbish",
    "drawing": b"<svg onload='x'/>",
    "archive": b"PK\x03\x04 archive",
    "half": plate_photo()[:60],
    "50,000 pixels": bomb(),
    "large": b"\x89PNG" + b"0" * 500_000,
}


@pytest.mark.parametrize("sent", HOSTILE.values(), ids=HOSTILE)
def test_marks_that_are_none_get_a_word(sent):
    with pytest.raises(NotAMask, match="again"):
        read_mask(text(sent))


def test_a_mask_that_is_none_leaves_the_whole_photo(try_out):
    try_out.mask = text(bomb())
    assert near(seen(try_out, letters="#e6cf8f", body="#26364a")[40, 30], (0x26, 0x36, 0x4A))


def test_the_colour_of_a_lid_is_that_of_its_middle():
    lid = np.full((90, 90, 3), 30, np.uint8)
    lid[25:65, 25:65] = (230, 207, 143)
    lid[40:44, 40:44] = 255  # a glint
    assert colour_of_lid(png(lid)) == "#e6cf8f"
