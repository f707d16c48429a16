"""How long a part takes to come clean, with what, and how gently."""

from typing import Any

from django import forms

from finishing.media.models import Medium
from finishing.science import blasting, grit
from finishing.science.blasting import Job, Refused
from finishing.science.cautions import cautions_for
from finishing.science.nozzle import HOSE_LOSS
from finishing.science.units import Quantity
from finishing.site.fields import QuantityFormField

from .media import MediumField
from .nozzle import GROUP, RigQuestion, at_the_nozzle, bars, compressor_gives, millimetres, rig_of


def one_of(label: str, names: Any, **kwargs: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=[(name, name) for name in names], **kwargs)


def _grades() -> list[tuple[str, str]]:
    return [(name, f"{name} ({grade.sp}), {grade.title}") for name, grade in grit.GRADES.items()]


class PartToBlast(RigQuestion):
    name = "blasting"
    title = "How long does a part take to blast?"
    about = "Hours, medium, bags, air and waste for a part, and what its metal bears."
    group = GROUP
    boxes = RigQuestion.boxes | {"bulk density": "medium", "free silica": "medium"}

    area = QuantityFormField(label="Area", unit="m²", minimum=0.001, maximum=500, initial=Quantity(4.2, "m**2"))
    metal = one_of("Metal", grit.ADVICE)
    state = one_of("To come off", grit.STATES, initial=grit.TIGHT)
    shape = one_of("Shape", grit.SHAPES, initial="ribbed casting")
    grade = forms.ChoiceField(label="Clean to", choices=_grades, initial="Sa 2½")
    medium = MediumField(label="Medium", initial="crushed-glass-medium")
    gathered = forms.BooleanField(label="Gathered and used again", required=False)
    bore = millimetres("Nozzle bore", 8)
    pressure = at_the_nozzle(2.4)
    free_air = compressor_gives(initial=3, minimum=0.001)
    most_pressure = bars("The rig gives", 8, required=False)
    hose_bore = millimetres("Hose bore", 32, required=False)

    def arrange(self) -> None:
        self.fields["medium"].of(self.asker.workshop)

    def refusals(self, given: dict[str, Any]) -> list[Refused]:
        return blasting.refusals(_job(given))

    def work_out(self, medium: Medium, metal: str, state: str, **given: Any) -> dict[str, Any]:
        job = _job({"medium": medium, "state": state, **given})
        done = blasting.blast(job)
        start, most = grit.pressures(metal, state)
        return {
            "done": done,
            "medium": medium,
            "metal": metal,
            "state": state,
            "pressures": job.rig.pressures,
            "fit": medium.fit(metal, state),
            "advice": grit.ADVICE[metal],
            "start": start,
            "most": most,
            "too_hard": given["pressure"] > most,
            "grade": grit.GRADES[given["grade"]],
            "angle": grit.STATES[state],
            "choices": grit.choices(metal, state),
            "test_patch": grit.TEST_PATCH,
            "rinse": grit.RINSE if medium.kind == "bicarbonate" else "",
            "narrow_hose": blasting.hose_too_narrow(job.rig),
            "cautions": cautions_for(blasting.triggers(job)),
            "workings": [
                blasting.rate_working(job, done),
                blasting.time_working(job, done),
                blasting.medium_working(job, done),
            ],
        }


def _job(given: dict[str, Any]) -> Job:
    medium = given["medium"]
    rig = rig_of({**given, "feed_difference": medium.feed_difference, "hose_loss": HOSE_LOSS.likely})
    names = ("area", "grade", "state", "shape", "gathered")
    return Job(medium=medium.value(), rig=rig, **{name: given[name] for name in names})
