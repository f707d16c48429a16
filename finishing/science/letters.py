"""Raised letters of a casting: what of them is painted, whether a foundry can cast them, and in which order they are
picked out."""

from dataclasses import dataclass

from .constants import Constant
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .units import Quantity
from .validity import within
from .working import Working

LEAST_HEIGHT, MOST_HEIGHT = 5.0, 500.0  # mm, of a capital
MOST_LETTERS = 1000
WIDE = Constant("width of a letter by its height", "b", 0.75, "", COMMON_PRACTICE)
COVERED = Constant("share of a letter's box that is letter", "c", 0.4, "", COMMON_PRACTICE)
STROKES = Constant("length of a capital's strokes by its height", "k", 2.2, "", OUR_JUDGEMENT)
LOST = Quantity(20, "percent")  # of the paint, on a small brush or roller   [common practice]

LEAST_STROKE = Constant("thinnest stroke that sand fills", "s_least", 1.5, "mm", COMMON_PRACTICE)
LEAST_STOCK = Constant("lowest pattern letters that are stocked", "h_stock", 9.5, "mm", "PATTERN-LETTERS")
LEAST_RELIEF = Constant("least relief that a finger reads", "r_least", 0.8, "mm", "TACTILE-LETTERS")
USUAL_RELIEF = (20.0, 75.0), (1.5, 3.0)  # mm: of capitals from … to …, relief from … to …   [common practice]


def letters_in(words: str) -> int:
    """How many signs are cast: all but blanks, and but the stroke that parts two lines.

    >>> letters_in("THACKWELL & DRUCE"), letters_in("No. 3 / LOWER MILL")
    (15, 13)
    """
    return sum(len(word) for word in words.split() if word != "/")


def face_area(count: int, height: float, stroke: float | None = None) -> float:
    """mm² of the faces of so many letters, their flanks apart; height of a capital and width of its strokes in mm.

    A = n·k·h·s where the stroke is known, k from the outlines of an open typeface; else A = n·c·h·b·h.
    Valid for 1 to 1000 letters of 5 to 500 mm with strokes up to half their height; else OutsideValidity.
    Source: [our judgement] and [common practice].

    >>> round(face_area(15, 40.0)), round(face_area(15, 40.0, 6.0))
    (7200, 7920)
    """
    within("letters", count, 1, MOST_LETTERS, "letters", OUR_JUDGEMENT)
    within("letter height", height, LEAST_HEIGHT, MOST_HEIGHT, "mm", OUR_JUDGEMENT)
    if stroke is None:
        return count * COVERED.value * height * WIDE.value * height
    within("stroke", stroke, 0, height / 2, "mm", OUR_JUDGEMENT)
    return count * STROKES.value * height * stroke


def face_working(count: int, height: float, stroke: float | None = None) -> Working:
    """How the area of the letters' faces comes about."""
    told = (("letters, n", f"{count}"), ("height of a capital, h", f"{height:.4g} mm"))
    result = f"{face_area(count, height, stroke) / 100:.3g} cm²"
    if stroke is None:
        note = "Give the width of their strokes to know it better."
        formula = f"A = n·{COVERED.value:g}·h·w, w = {WIDE.value:g}·h"
        return Working("face of the letters", formula, told, result, COMMON_PRACTICE, note)
    note = "A capital's strokes together are about 2.2 times as long as it is high: the mean of an open typeface."
    formula = f"A = n·{STROKES.value:g}·h·s"
    return Working(
        "face of the letters", formula, (*told, ("stroke, s", f"{stroke:.4g} mm")), result, OUR_JUDGEMENT, note
    )


def casting_warnings(height: float | None, relief: float | None, stroke: float | None) -> list[str]:
    """What a sand foundry would object to, in words; all in mm, None where nobody has said.

    Sources: [PATTERN-LETTERS], [TACTILE-LETTERS]; the rest common practice.

    >>> casting_warnings(8.0, 0.5, None)[0]
    'Pattern letters below 9.5 mm are not stocked: these are cut by hand.'
    >>> casting_warnings(40.0, 2.0, 5.0)
    []
    """
    told = []
    if height is not None and height < LEAST_STOCK.value:
        told.append(f"Pattern letters below {LEAST_STOCK.value:g} mm are not stocked: these are cut by hand.")
    if stroke is not None and stroke < LEAST_STROKE.value:
        told.append(f"Strokes below {LEAST_STROKE.value:g} mm do not fill in sand.")
    if relief is not None and relief < LEAST_RELIEF.value:
        told.append(f"A relief below {LEAST_RELIEF.value:g} mm drowns in paint.")
    (low, high), (least, most) = USUAL_RELIEF
    if height is not None and relief is not None and low <= height <= high and not least <= relief <= most:
        told.append(f"Letters of this height usually stand {least:g} to {most:g} mm proud.")
    return told


@dataclass(frozen=True)
class LetteringStep:
    """What is done, and what must be minded with it."""

    what: str
    mind: str = ""


ORDER_OF_WORK = (  # [common practice]
    LetteringStep(
        "Wait until the last coat bears a brush; where tape goes on it, until it bears tape.",
        "Try the tape where nobody looks.",
    ),
    LetteringStep(
        "Wipe the faces free of grease and dust; rub gloss dull on the letters alone.",
        "Rub wet: dry dust of old paint is not breathed.",
    ),
    LetteringStep("Tape only where the hand is unsure: fine-line tape, its edge sealed with the body’s colour."),
    LetteringStep(
        "High, flat faces: a hard foam roller, nearly dry. Rounded or low ones: a soft brush about half as wide as the"
        " stroke."
    ),
    LetteringStep("From the top line down and away from the hand, so that it rests on dry iron; each line in one go."),
    LetteringStep("Wipe what ran down a flank at once, with a cloth over a flat blade."),
    LetteringStep(
        "Pull tape while the paint is still soft, 15 to 60 minutes after the stroke, back over itself.",
        "Never leave it for a day, nor in the sun.",
    ),
    LetteringStep("A second coat where the body shows through, once the first bears it."),
    LetteringStep("Keep it dry until it bears dew; nothing clear over it unless both sheets allow that."),
)
