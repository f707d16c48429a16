"""The questions, in the order in which a piece meets them."""

from finishing.calculators.forms.air import BareIron, MayIPaint, WarmingUp
from finishing.calculators.forms.blasting import NozzleAir, PartToBlast
from finishing.calculators.forms.drying import NextCoat, WhatOverWhat
from finishing.calculators.forms.film import HowFar, Mixing, PaintNeeded, SolventAir, WetAndDry
from finishing.calculators.forms.question import Asker, Question
from finishing.calculators.forms.surface import AreaFromPaint, AreaOfPart

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
