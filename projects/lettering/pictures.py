"""A photo of a piece in other colours, as a JPEG, and the marks on it as they are brushed."""

import base64
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from io import BytesIO

import numpy as np
from django.core.files.storage import default_storage
from numpy.typing import NDArray
from PIL import Image, ImageFilter

from finishing.science.colours import lightness, repainted, tone_split
from projects.lettering.images import BODY, BODY_INK, LETTERS, LETTERS_INK, LONGEST, NOTHING
from projects.record.models import Candidate, TryOut

FARTHEST = 150  # px from the edge of the marks to which what lies behind them is followed
ONE_PAINT = 0.2  # how far shares of red, green and blue stray on one paint from light to shadow
MUCH_LIGHTER = 1.4  # times as light as the face: nearly three times its luminance

Share = NDArray[np.float64]


@dataclass(frozen=True)
class Look:
    """All that one picture is made of, so that it is made once.

    letters, body: colours; "" leaves them as they are in the photo.
    """

    photo: str
    mask: str
    letters_are: str
    split: float | None
    letters: str = ""
    body: str = ""

    @classmethod
    def of(cls, try_out: TryOut, candidate: Candidate | None = None) -> "Look":
        """A candidate's; without one, the photo as it is."""
        colours = (candidate.letters, candidate.body) if candidate else ("", "")
        return cls(str(try_out.photo.image), try_out.mask, try_out.letters_are, try_out.split, *colours)

    @property
    def tag(self) -> str:
        """Another one for every other look: part of the picture's address, so that browsers keep it for good."""
        return sha256(repr(self).encode()).hexdigest()[:12]


@lru_cache(maxsize=64)
def picture(look: Look) -> bytes:
    """The photo in the look's colours. Raises FileNotFoundError where the photo's file is gone."""
    photo = _photo(look.photo)
    pixels = np.asarray(photo, dtype=float)
    letters, body = _shares(look, pixels)
    if look.body:
        pixels = repainted(pixels, body, look.body)
    if look.letters:
        pixels = repainted(pixels, letters, look.letters)
    written = BytesIO()
    Image.fromarray(pixels.round().astype(np.uint8)).save(written, "JPEG", quality=82, optimize=True)
    return written.getvalue()


@lru_cache(maxsize=64)
def found_split(look: Look) -> float:
    """Where the tone splits letters from body by itself, 0 to 1."""
    pixels = np.asarray(_photo(look.photo), dtype=float)
    return _split(lightness(pixels), _marks(look.mask, pixels.shape[:2]) > NOTHING)


def _photo(name: str) -> Image.Image:
    with default_storage.open(name, "rb") as kept:
        opened = Image.open(kept)
        opened.draft("RGB", (LONGEST, LONGEST))
        photo = opened.convert("RGB")
    photo.thumbnail((LONGEST, LONGEST))
    return photo


def _shares(look: Look, pixels: NDArray[np.float64]) -> tuple[Share, Share]:
    """How far each pixel is letters, and how far body; where nothing is marked the whole photo is split by tone."""
    marks = _marks(look.mask, pixels.shape[:2])
    marked, light = marks > NOTHING, lightness(pixels)
    if look.letters_are == TryOut.LettersAre.BRUSHED:
        letters = marks == LETTERS
    else:
        split = _split(light, marked) if look.split is None else look.split
        lighter = look.letters_are == TryOut.LettersAre.LIGHTER
        by_tone = marked & ((light > split) == lighter)
        beside = _beside(by_tone & (marks != LETTERS), marked)
        letters = by_tone & ~beside
        marked = marked & (~beside | _of_one_paint(pixels, marked & ~by_tone))
    return _softened(letters), _softened(marked & ~letters)


def _split(light: Share, marked: NDArray[np.bool_]) -> float:
    return tone_split(light[marked]) if marked.any() else 0.5


def _beside(by_tone: NDArray[np.bool_], marked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What has the letters' tone and hangs together with the edge of the marks: no letter, but the face in shadow,
    or what lies behind it, brushed over by a broad finger."""
    inner = marked.copy()
    for grown in _neighbours(~marked):
        inner &= ~grown
    beside = by_tone & marked & ~inner
    for _ in range(FARTHEST):
        wider = beside.copy()
        for grown in _neighbours(beside):
            wider |= grown
        wider &= by_tone
        if (wider == beside).all():
            break
        beside = wider
    return beside


def _of_one_paint(pixels: NDArray[np.float64], sample: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Pixels of the sample's colour, in light or in shadow: their shares of red, green and blue are alike, and they are
    not far lighter."""
    if not sample.any():
        return sample
    shares = (pixels + 5) / (pixels + 5).sum(axis=2, keepdims=True)  # of 255: black is grey, whatever its noise
    light = lightness(pixels)
    alike = np.abs(shares - np.median(shares[sample], axis=0)).max(axis=2) < ONE_PAINT
    return alike & (light < MUCH_LIGHTER * np.median(light[sample]))


def _neighbours(chosen: NDArray[np.bool_]) -> list[NDArray[np.bool_]]:
    """Each pixel's four neighbours, as four pictures; beyond the photo nothing is chosen."""
    framed = np.pad(chosen, 1)
    return [framed[:-2, 1:-1], framed[2:, 1:-1], framed[1:-1, :-2], framed[1:-1, 2:]]


def _softened(chosen: NDArray[np.bool_]) -> Share:
    """An edge as a lens draws it, without steps; what is chosen does not grow by it."""
    drawn = Image.fromarray(chosen.astype(np.uint8) * 255).filter(ImageFilter.GaussianBlur(0.8))
    return np.asarray(drawn, dtype=float) / 255


def _marks(mask: str, shape: tuple[int, ...]) -> NDArray[np.uint8]:
    """A mask that came in with a workshop and is none marks nothing: the whole photo counts."""
    whole = np.full(shape, BODY, np.uint8)
    try:
        drawn = Image.open(BytesIO(base64.b64decode(mask)), formats=("PNG",))
        if max(drawn.size) > LONGEST:
            return whole
        return np.asarray(drawn.convert("L").resize((shape[1], shape[0]), Image.Resampling.NEAREST), dtype=np.uint8)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):  # what the decoder raises for other bytes
        return whole


def mask_to_draw(try_out: TryOut) -> bytes:
    """The kept marks in their inks, to be brushed on."""
    wide, high = size_of(try_out)
    shape = (high, wide)
    marks = _marks(try_out.mask, shape) if try_out.mask else np.zeros(shape, np.uint8)
    inks = np.zeros((*shape, 4), np.uint8)
    inks[marks == BODY] = (*BODY_INK, 255)
    inks[marks == LETTERS] = (*LETTERS_INK, 255)
    written = BytesIO()
    Image.fromarray(inks).save(written, "PNG", optimize=True)
    return written.getvalue()


def size_of(try_out: TryOut) -> tuple[int, int]:
    """Width and height at which it is brushed and painted, in pixels."""
    wide, high = try_out.photo.width, try_out.photo.height
    scale = min(1.0, LONGEST / max(wide, high))
    return max(1, round(wide * scale)), max(1, round(high * scale))
