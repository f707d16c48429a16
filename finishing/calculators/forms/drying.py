"""When the next coat may go on, and what may go over what."""

import numpy as np
from django import forms

from finishing.coatings.models import GenericType
from finishing.science import drying, overcoating
from finishing.science.drying import DryingStage
from finishing.science.units import Quantity
from finishing.site.fields import QuantityFormField

from .air import degrees, humidity
from .choices import ChosenPaint, PaintField, first_generic_paint
from .question import Answer, Question

GROUP = "The next coat"
SHOWN_AT = (5, 10, 15, 20, 25, 30)  # °C
NEW_COATS = dict(GenericType.choices)
OLD_COATS = {kind: NEW_COATS.get(kind, kind) for kind in overcoating.OLD_TYPES}


class NextCoat(Question):
    name = "next-coat"
    title = "When may the next coat go on?"
    about = "Touch-dry, next coat from and until, and a closed zone between, at a temperature."
    group = GROUP

    paint = PaintField(none="choose a paint", label="The coat that is on", initial=first_generic_paint)
    temperature = degrees("Metal and air", 15)
    humidity = humidity(60)
    dry_film = QuantityFormField(
        label="Dry film",
        unit="µm",
        minimum=1,
        maximum=2000,
        required=False,
        help_text="Empty: as thick as the sheet says. A thicker coat dries slower.",
    )
    additive = forms.BooleanField(label="Retarder or brushing additive stirred in", required=False)

    def work_out(
        self, paint: ChosenPaint, temperature: Quantity, humidity: Quantity, dry_film: Quantity | None, additive: bool
    ) -> Answer:
        table = paint.table
        if table is None:
            return {"paint": paint, "table": None}
        air = temperature.magnitude, humidity.to("percent").magnitude
        stirred = paint.stirred if additive else 1.0
        slower = float(drying.slowing(table, None if dry_film is None else dry_film.magnitude, stirred))
        stages = times(table, *air, slower)
        return {
            "paint": paint,
            "table": table,
            "stages": stages,
            "bears_dew": stages[table.dew_safe_stage],
            "forever": stages["recoat_from"] == np.inf,
            "dries": air[0] > table.floor,
            "slower": slower,
            "damp": float(drying.damp_factor(table, air[1])),
            "course": [_at(t, times(table, t, air[1], slower)) for t in SHOWN_AT],
            "workings": [
                drying.drying_working(table, stage, temperature, humidity, slower)
                for stage in DryingStage
                if table.gives(stage)
            ],
        }


def _at(temperature: float, stages: dict[str, float | None]) -> Answer:
    return {"at": Quantity(temperature, "degC"), "stages": stages, "dries": stages["recoat_from"] != np.inf}


def times(table: drying.DryingTable, temperature: float, damp: float, slower: float) -> dict[str, float | None]:
    """Hours to each stage in steady air; None where the sheet is silent, inf where the paint makes no progress."""
    with np.errstate(divide="ignore"):
        return {
            str(stage): float(1 / drying.rate(table, stage, [temperature], damp, slower)[0])
            if table.gives(stage)
            else None
            for stage in DryingStage
        }


class WhatOverWhat(Question):
    name = "overcoating"
    title = "What may go over what?"
    about = "Whether a paint may go over another one, and why, by generic type."
    group = GROUP

    new = forms.ChoiceField(label="New paint", choices=NEW_COATS, initial="alkyd enamel")
    old = forms.ChoiceField(label="over", choices=OLD_COATS, initial="alkyd primer")
    aged = forms.ChoiceField(
        label="The old coat",
        choices=[("", "is fresh, inside its recoat window"), ("aged", "has hardened, past its recoat window")],
        required=False,
    )

    def work_out(self, new: str, old: str, aged: str) -> Answer:
        return {
            "verdict": overcoating.verdict(new, old, aged=bool(aged)),
            "new": NEW_COATS[new],
            "old": OLD_COATS[old],
        }
