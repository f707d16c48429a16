"""What a casting loses on its way from a pattern: contraction as it cools, and the metal that is machined off.

An old casting that is used as its own pattern gives a new one that is smaller by the contraction, and has no metal left
where it was machined.
"""

from dataclasses import dataclass

from .sources import COMMON_PRACTICE
from .working import Working

# Linear contraction from mould to cold casting, %; a foundry knows its own metal better.   [common practice, no source]
CONTRACTION = {
    "grey iron": 1.0,
    "ductile iron": 0.8,
    "steel": 2.0,
    "brass": 1.5,
    "bronze": 1.5,
    "aluminium": 1.3,
}
# Machining allowance a face by the largest dimension, mm: up to, and allowance. Grade H of ISO 8062:1994, usual for
# hand-moulded grey iron; recalled from memory, not seen.
ALLOWANCES = (
    (40, 0.7),
    (63, 1.0),
    (100, 2.0),
    (160, 3.0),
    (250, 4.0),
    (400, 5.0),
    (630, 6.0),
    (1000, 7.0),
    (1600, 8.0),
    (2500, 9.0),
)
LARGEST = ALLOWANCES[-1][0]  # mm


def machining_allowance(largest: float) -> float:
    """Metal to be left on a machined face, mm, of a casting whose largest dimension is so many mm.

    Above 2500 mm it raises ValueError: ask the foundry.

    >>> machining_allowance(380.0)
    5.0
    """
    if not 0 < largest <= LARGEST:
        raise ValueError(f"Machining allowance is known for castings up to {LARGEST} mm; ask the foundry.")
    return next(allowance for up_to, allowance in ALLOWANCES if largest <= up_to)


@dataclass(frozen=True)
class PatternSize:
    """One size of a part that is cast anew, all in mm.

    `finished`: as it must be · `casting`: with its allowance, cold · `pattern`: what the pattern measures ·
    `from_old`: what comes of the old part itself, moulded as it is · `short`: by how much that is too small ·
    `add`: what must be built up on the old part before it is moulded
    """

    finished: float
    faces: int
    allowance: float
    contraction: float

    @property
    def casting(self) -> float:
        return self.finished + self.faces * self.allowance

    @property
    def pattern(self) -> float:
        return round(self.casting * (1 + self.contraction / 100), 1)

    @property
    def from_old(self) -> float:
        return round(self.finished / (1 + self.contraction / 100), 1)

    @property
    def short(self) -> float:
        return round(self.casting - self.from_old, 1)

    @property
    def add(self) -> float:
        return round(self.pattern - self.finished, 1)

    @property
    def working(self) -> Working:
        inputs = (
            ("finished size", f"{self.finished:g} mm"),
            ("machined faces", str(self.faces)),
            ("allowance a face", f"{self.allowance:g} mm"),
            ("contraction", f"{self.contraction:g} %"),
        )
        formula = "(finished size + machined faces · allowance) · (1 + contraction ÷ 100)"
        return Working("pattern size", formula, inputs, f"{self.pattern:g} mm", COMMON_PRACTICE)


def pattern_size(finished: float, faces: int, largest: float, material: str) -> PatternSize:
    """A size of a part of this material (a key of CONTRACTION) with 0, 1 or 2 machined ends, mm.

    A patternmaker's rule for grey iron is longer by 10 mm in a metre:

    >>> pattern_size(1000.0, 0, 1000.0, "grey iron").pattern
    1010.0
    """
    allowance = machining_allowance(largest) if faces else 0.0
    return PatternSize(finished, faces, allowance, CONTRACTION[material])
