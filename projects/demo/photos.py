"""The demonstration's photos: castings drawn in their stage's colour, in place of a camera."""

from collections.abc import Callable
from io import BytesIO
from random import Random

from PIL import Image, ImageChops, ImageDraw, ImageFont

from projects.record.images import Photograph, photograph

SIZE = (800, 600)
BENCH, WALL, EDGE = "#b9a588", "#ded8cc", "#1d1f20"
BARE, RUST = "#9a9fa1", "#a5562b"
LARGEST = 10**7  # bytes and pixels; a drawing is far below

Draw = ImageDraw.ImageDraw


def _frame(draw: Draw, colour: str) -> None:
    draw.polygon([(180, 470), (330, 110), (470, 110), (620, 470), (540, 470), (400, 200), (260, 470)], colour, EDGE, 3)
    draw.rounded_rectangle((215, 300, 585, 370), 10, colour, EDGE, 3)
    draw.rounded_rectangle((150, 470, 650, 505), 8, colour, EDGE, 3)


def _wheel(draw: Draw, colour: str) -> None:
    draw.ellipse((200, 80, 600, 480), None, EDGE, 52)
    draw.ellipse((203, 83, 597, 477), None, colour, 46)
    for across in ((376, 120, 424, 440), (240, 256, 560, 304)):
        draw.rectangle(across, colour, EDGE, 3)
    draw.ellipse((350, 230, 450, 330), colour, EDGE, 3)
    draw.ellipse((382, 262, 418, 298), WALL, EDGE, 3)


def _treadle(draw: Draw, colour: str) -> None:
    draw.rounded_rectangle((150, 220, 650, 400), 24, colour, EDGE, 3)
    for left in range(185, 600, 60):
        draw.rounded_rectangle((left, 340, left + 36, 380), 8, BENCH, EDGE, 3)


def _bracket(draw: Draw, colour: str) -> None:
    draw.polygon([(200, 470), (200, 150), (280, 150), (300, 330), (560, 400), (600, 470)], colour, EDGE, 3)
    draw.ellipse((190, 90, 290, 190), colour, EDGE, 3)
    draw.ellipse((220, 120, 260, 160), WALL, EDGE, 3)


def _letters(draw: Draw, word: str, colour: str, top: int) -> None:
    font = ImageFont.load_default(size=30)
    draw.text((SIZE[0] / 2, top), word, colour, font, anchor="mm", stroke_width=1, stroke_fill=colour)


def _specks(picture: Image.Image, bare: Image.Image, colour: str, spread: int) -> None:
    """Grit, rust or lifted paint, strewn over what differs from the bare bench."""
    strewn = picture.copy()
    draw = ImageDraw.Draw(strewn)
    chance = Random(spread)  # the same picture each time
    for _ in range(spread):
        across, down, size = chance.randrange(150, 650), chance.randrange(80, 510), chance.randrange(3, 9)
        draw.ellipse((across, down, across + size, down + size), colour)
    iron = ImageChops.difference(picture, bare).convert("L").point(lambda light: 255 if light else 0)
    picture.paste(strewn, mask=iron)


Shape = Callable[[Draw, str], None]
DRAWINGS: dict[str, tuple[Shape, str, str, str, int]] = {  # shape, colour, letters' colour, specks' colour, how many
    "old frame": (_frame, "#4d5a45", "#2f382b", RUST, 320),
    "old wheel": (_wheel, "#4d5a45", "", RUST, 300),
    "old treadle": (_treadle, "#4d5a45", "#2f382b", RUST, 320),
    "old bracket": (_bracket, "#4d5a45", "", RUST, 240),
    "blasted frame": (_frame, BARE, "#6f7476", "#c3c7c8", 320),
    "blue frame": (_frame, "#26364a", "#3f5470", "", 0),
    "green frame": (_frame, "#2f5a44", "#47795f", "", 0),
    "lettered treadle": (_treadle, "#26364a", "#e6cf8f", "", 0),
    "wrinkled wheel": (_wheel, "#26364a", "", "#6d829c", 420),
    "bloomed bracket": (_bracket, BARE, "", RUST, 260),
}
WORDS: dict[Shape, tuple[str, int]] = {_frame: ("THACKWELL & DRUCE", 335), _treadle: ("WAGTAIL", 285)}


def drawn(name: str) -> Photograph:
    """The drawing of this name, as a photo is kept."""
    shape, colour, letters, specks, spread = DRAWINGS[name]
    bench = Image.new("RGB", SIZE, WALL)
    ImageDraw.Draw(bench).rectangle((0, 480, *SIZE), BENCH)
    picture = bench.copy()
    draw = ImageDraw.Draw(picture)
    shape(draw, colour)
    if letters:
        word, top = WORDS[shape]
        _letters(draw, word, letters, top)
    if specks:
        _specks(picture, bench, specks, spread)
    draw.text((12, SIZE[1] - 28), "drawn, not photographed", EDGE, ImageFont.load_default(size=18))
    sent = BytesIO()
    picture.save(sent, "PNG")
    return photograph(sent.getvalue(), LARGEST, LARGEST)
