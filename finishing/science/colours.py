"""Colours of letters and body: how far they stand out, from how far they are read, whether two can be told apart, and
how a surface in a photo would look in another paint.

A colour is a code of sRGB as # and six digits. Contrast is a formula for screens: gloss, gilt and weather change the
look of paint, and a painted card beside the casting decides.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from coloraide import Color
from numpy.typing import NDArray

from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .validity import within
from .working import Working

ENOUGH_FOR_LARGE, ENOUGH = 3.0, 4.5  # contrast for large text, and for text of any size   [WCAG]
SAME, HARDLY_APART = 1.0, 3.0  # ΔE00: not seen side by side; seen so, but not on two machines   [common practice]
# Large text begins at 18 points, 24 px of 1/96 inch, looked at from an arm's length of 28 inches; a capital is about
# 0.7 of it: so wide an angle does a letter take that is large   [WCAG, CSS-PIXEL; 0.7 common practice]
LARGE_ANGLE = 0.7 * 24 / 96 / 28
LEAST_LETTER, NEAR, BY_DISTANCE = 16.0, 1.83, 3.2 / 0.305  # mm, m, mm/m: capitals on signs   [SIGN-LETTERS]

_LINEAR_BELOW, _SLOPE, _OFFSET, _POWER = 0.04045, 12.92, 0.055, 2.4  # sRGB   [WCAG]
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
_DARK = 0.015  # luminance below which a camera shows more noise than shape   [our judgement]
_GLINT = 2.0  # times the usual light of a surface, above which it is the lamp that is seen   [our judgement]

Pixels = NDArray[np.float64]


class Tellable(Enum):
    """Whether two colours can be told apart."""

    ALIKE = "cannot be told apart"
    HARDLY = "can hardly be told apart"
    YES = "can be told apart"


def luminance(colour: str) -> float:
    """Relative luminance, 0 (black) to 1 (white).   L = 0.2126·R + 0.7152·G + 0.0722·B of linear sRGB

    Raises ValueError for what is no colour.      Source: [WCAG].

    >>> round(luminance("#767676"), 4)
    0.1812
    """
    return float(_linear(np.array(Color(colour).convert("srgb").coords())) @ _LUMINANCE)


def contrast(one: str, other: str) -> float:
    """How far two colours stand out from one another, 1 to 21, whichever is named first.

    (L₁ + 0.05)/(L₂ + 0.05), L₁ the lighter.      Source: [WCAG].

    >>> round(contrast("#767676", "#ffffff"), 3)
    4.542
    """
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def difference(one: str, other: str) -> float:
    """CIEDE2000 between two colours, 0 upwards, under daylight (D65).      Source: [CIEDE2000].

    >>> round(difference("#26364a", "#26374b"), 1)
    0.5
    """
    return float(Color(one).delta_e(Color(other), method="2000"))


def tellable(one: str, other: str) -> Tellable:
    """In words; where the steps lie is common practice.

    >>> tellable("#26364a", "#26374b")
    <Tellable.ALIKE: 'cannot be told apart'>
    """
    apart = difference(one, other)
    if apart < SAME:
        return Tellable.ALIKE
    return Tellable.HARDLY if apart < HARDLY_APART else Tellable.YES


@dataclass(frozen=True)
class Legibility:
    """How letters of one colour read on another.

    read_from: m at which capitals of this height are still easily read, by rules for signs; None where the height is
    not known. large_until: m up to which they look as large as large text on a screen, for which less contrast is
    enough.
    """

    contrast: float
    read_from: float | None
    large_until: float | None

    @property
    def enough(self) -> bool:
        return self.contrast >= ENOUGH

    @property
    def enough_when_large(self) -> bool:
        return self.contrast >= ENOUGH_FOR_LARGE

    @property
    def reads_until(self) -> float | None:
        """m; None where colour alone does not make them readable, or their height is not known."""
        if self.read_from is None or self.large_until is None or not self.enough_when_large:
            return None
        return self.read_from if self.enough else min(self.read_from, self.large_until)


def legibility(letters: str, body: str, height: float | None = None) -> Legibility:
    """Letters on a body; height: of a capital in mm, 5 to 500.

    d = 1.83 m + (h − 16 mm)·0.305/3.2 for h of 16 mm or more, in proportion below that; large to h/0.00625.
    Raises OutsideValidity.      Sources: [WCAG], [SIGN-LETTERS].

    >>> reading = legibility("#e6cf8f", "#26364a", 25)
    >>> round(reading.contrast, 1), round(reading.reads_until, 1)
    (8.0, 2.7)
    """
    stands_out = contrast(letters, body)
    if height is None:
        return Legibility(stands_out, None, None)
    within("letter height", height, 5, 500, "mm", "SIGN-LETTERS")
    from_afar = NEAR + (height - LEAST_LETTER) / BY_DISTANCE if height >= LEAST_LETTER else NEAR * height / LEAST_LETTER
    return Legibility(stands_out, from_afar, height / 1000 / LARGE_ANGLE)


def contrast_working(letters: str, body: str) -> Working:
    """How the contrast of letters on a body comes about."""
    of_letters, of_body = luminance(letters), luminance(body)
    return Working(
        name="contrast",
        formula="(L₁ + 0.05)/(L₂ + 0.05), L = 0.2126·R + 0.7152·G + 0.0722·B of linear sRGB, L₁ the lighter",
        inputs=(
            (f"luminance of the letters, {letters}", f"{of_letters:.5f}"),
            (f"luminance of the body, {body}", f"{of_body:.5f}"),
        ),
        result=f"{contrast(letters, body):.2f}",
        source="WCAG",
        note="A formula for screens: gloss, gilt and weather change the look of paint. A painted card decides.",
    )


def reading_working(letters: str, body: str, height: float) -> Working:
    """How far away letters of this height (mm) are read."""
    reading = legibility(letters, body, height)
    return Working(
        name="read from as far as",
        formula="1.83 m + (h − 16 mm)·0.305 m/3.2 mm (below 16 mm in proportion); with a contrast of 3 to 4.5 no"
        " farther than h/0.00625, where letters look large",
        inputs=(("height of a capital", f"{height:.1f} mm"), ("contrast", f"{reading.contrast:.2f}")),
        result="not by colour alone" if reading.reads_until is None else f"{reading.reads_until:.1f} m",
        source="SIGN-LETTERS",
        note="Below a contrast of 3 raised letters are seen by light and shadow alone.",
    )


def tellable_working(one: str, other: str) -> Working:
    """How far apart two colours are."""
    return Working(
        name="colour difference",
        formula="CIEDE2000 of the two in CIELAB under D65; below 1 they cannot be told apart, below 3 hardly",
        inputs=(("one", one), ("other", other)),
        result=f"{difference(one, other):.1f}, they {tellable(one, other).value}",
        source="CIEDE2000",
        note=f"Where the steps lie: {COMMON_PRACTICE}.",
    )


def tone_split(light: Pixels) -> float:
    """The light that best splits lighter from darker pixels (Otsu 1979): it leaves least spread on both sides.

    light: of each pixel, 0 to 1, any shape; 0.5 where there is nothing to split.      Source: [OTSU].

    >>> 0.2 < tone_split(np.array([0.1, 0.2, 0.8, 0.9])) < 0.8
    True
    """
    counts, edges = np.histogram(light, bins=256, range=(0.0, 1.0))
    middles, total = (edges[:-1] + edges[1:]) / 2, counts.sum()
    below = np.cumsum(counts)
    sums = np.cumsum(counts * middles)
    with np.errstate(divide="ignore", invalid="ignore"):
        between = (sums[-1] * below - sums * total) ** 2 / (below * (total - below))
    if not np.isfinite(between).any():
        return 0.5
    best = np.flatnonzero(between >= np.nanmax(between) * (1 - 1e-12))
    return float((edges[best[0] + 1] + edges[best[-1] + 1]) / 2)  # the middle of a gap, where there is one


def lightness(photo: Pixels) -> Pixels:
    """How light each pixel (height × width × 3, sRGB 0 to 255) looks, 0 to 1: the cube root of its luminance."""
    return np.cbrt(_luminance(photo))


def repainted(photo: Pixels, share: Pixels, colour: str) -> Pixels:
    """A photo in which a surface has another paint, its light and shadow kept.

    photo: height × width × 3, sRGB 0 to 255; share: height × width, 0 (left as it is) to 1 (repainted). The light on
    the surface is each pixel's luminance by the surface's median; the paint takes that light, and what is far brighter
    than the rest is the lamp on the gloss and stays white (body and interface reflection: Shafer 1985). Very dark
    surfaces show less of their shape: what a camera has not seen cannot be put back.
    Raises ValueError for what is no colour.      Source: [DICHROMATIC]; limits by our judgement.

    >>> grey = np.full((2, 2, 3), 128.0)
    >>> repainted(grey, np.ones((2, 2)), "#2f5a44")[0, 0].round().tolist()
    [47.0, 90.0, 68.0]
    """
    within("share", share, 0, 1, "", OUR_JUDGEMENT)
    linear, seen = _linear(photo / 255), _luminance(photo)
    surface = seen[share > 0.5]
    if not surface.size:
        return photo
    usual = float(np.median(surface))
    light = (seen + _DARK) / (usual + _DARK)
    paint = _linear(np.array(Color(colour).convert("srgb").coords()))
    body = paint * _soft(light, float(paint.max()))[..., None]
    gloss = np.clip(seen - _GLINT * max(usual, _DARK), 0, None)[..., None]
    fresh = np.clip(body + gloss, 0, 1)
    kept = share[..., None]
    return np.clip(_encoded(linear * (1 - kept) + fresh * kept) * 255, 0, 255)


def _soft(light: Pixels, brightest: float) -> Pixels:
    """Light that would burn a bright paint out is held back the more the nearer it comes to white."""
    room = max(1 / max(brightest, 1e-6), 1.02)
    beyond = np.clip(light - 1, 0, None)
    return np.minimum(light, 1) + (room - 1) * beyond / (beyond + room - 1)


def _luminance(photo: Pixels) -> Pixels:
    return np.asarray(_linear(photo / 255) @ _LUMINANCE, dtype=float)


def _linear(encoded: Pixels) -> Pixels:
    curved = ((np.clip(encoded, 0, 1) + _OFFSET) / (1 + _OFFSET)) ** _POWER
    return np.where(encoded <= _LINEAR_BELOW, encoded / _SLOPE, curved)


def _encoded(linear: Pixels) -> Pixels:
    curved = (1 + _OFFSET) * np.clip(linear, 0, 1) ** (1 / _POWER) - _OFFSET
    return np.where(linear <= _LINEAR_BELOW / _SLOPE, linear * _SLOPE, curved)
