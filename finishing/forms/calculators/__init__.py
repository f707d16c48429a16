"""The questions, in the order in which a piece meets them."""

from .air import BareIron, MayIPaint, WarmingUp
from .blasting import PartToBlast
from .drying import NextCoat, WhatOverWhat
from .film import HowFar, Mixing, PaintNeeded, WetAndDry
from .nozzle import NozzleAir
from .question import Asker, Question
from .surface import AreaFromPaint, AreaOfPart
from .ventilation import SolventAir

QUESTIONS: dict[str, type[Question]] = {
    question.name: question
    for question in (
        MayIPaint,
        BareIron,
        WarmingUp,
        AreaOfPart,
        AreaFromPaint,
        PartToBlast,
        NozzleAir,
        PaintNeeded,
        WetAndDry,
        HowFar,
        Mixing,
        SolventAir,
        NextCoat,
        WhatOverWhat,
    )
}

__all__ = ["QUESTIONS", "Asker", "Question"]
