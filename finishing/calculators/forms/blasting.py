"""What air a nozzle takes, and how long a part takes to come clean, with what, and how gently."""

from math import isinf
from typing import Any

from django import forms

from finishing.media.models import Medium
from finishing.media.words import refusal_words
from finishing.science import blasting, compressor, grit, nozzle
from finishing.science.blasting import Job, Refused, Rig
from finishing.science.cautions import cautions_for
from finishing.science.nozzle import HOSE_LOSS, Pressures
from finishing.science.units import Quantity
from finishing.site.fields import QuantityFormField, pint_unit

from .choices import MediumField
from .question import Answer, Question, one_of

GROUP = "Blasting"
A_MILD_DAY = Quantity(20, "degC"), Quantity(60, "percent")


def _of(unit: str, label: str, initial: float | None, least: float, most: float, **kwargs: Any) -> QuantityFormField:
    begin = None if initial is None else Quantity(initial, pint_unit(unit))
    return QuantityFormField(label=label, unit=unit, initial=begin, **{"minimum": least, "maximum": most, **kwargs})


def bars(label: str, initial: float | None = None, **kwargs: Any) -> QuantityFormField:
    return _of("bar", label, initial, 0, 50, **kwargs)


def millimetres(label: str, initial: float | None = None, **kwargs: Any) -> QuantityFormField:
    return _of("mm", label, initial, 0.5, 200, **kwargs)


def cubic_metres(label: str, initial: float | None = None, **kwargs: Any) -> QuantityFormField:
    return _of("m³/min", label, initial, 0, 100, **kwargs)


def at_the_nozzle(initial: float) -> QuantityFormField:
    return bars("Pressure at the nozzle", initial, help_text="Behind the bore while it blasts, not at the pot's gauge.")


def compressor_gives(**kwargs: Any) -> QuantityFormField:
    return cubic_metres(
        "Compressor gives", required=False, help_text="Free air delivered, not what its piston sweeps.", **kwargs
    )


class RigQuestion(Question):
    """A question about hose, nozzle and pot; what cannot be right about them is told at its box."""

    boxes = {"nozzle bore": "bore", "nozzle pressure": "pressure", "free air": "free_air"}

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if not self.errors:
            for refused in self.refusals(given):
                self.add_error(self._box_of(refused.field), refusal_words(refused, self.asker.measures))
        return given

    def refusals(self, given: dict[str, Any]) -> list[Refused]:
        raise NotImplementedError


class NozzleAir(RigQuestion):
    name = "nozzle-air"
    title = "What air does the nozzle take?"
    about = "Air by bore and pressure, the compressor for it, and the three pressures that are often mixed up."
    group = GROUP
    boxes = RigQuestion.boxes | {
        "worn bore": "worn_bore",
        "pressure when full": "full",
        "pressure when empty": "empty",
        "receiver": "receiver",
    }

    bore = millimetres("Nozzle bore", 6)
    pressure = at_the_nozzle(5)
    feed_difference = bars(
        "Pot above the hose by",
        0.15,
        maximum=3,
        help_text="It pushes the medium into the hose: 0.15 bar (2 psi) for grain, 0.3 (4) for a light powder.",
    )
    hose_loss = bars("Lost in the hose", 0.5, maximum=10, help_text="15 m (50 ft): 0.15 to 1.1 bar, more when narrow.")
    most_pressure = bars("The rig gives", 7, required=False)
    hose_bore = millimetres("Hose bore", 25, required=False)
    worn_bore = millimetres("Worn to", required=False, help_text="The largest drill that goes in.")
    free_air = compressor_gives(initial=2.6, minimum=0.001)
    other_air = cubic_metres("All else that draws air", 0, required=False, help_text="Other tools, an air-fed helmet.")
    receiver = QuantityFormField(label="Receiver", unit="L", minimum=1, maximum=100_000, required=False)
    full = bars("Receiver full at", 8, required=False)
    empty = bars("Too low at", 5, required=False)

    def refusals(self, given: dict[str, Any]) -> list[Refused]:
        refused = blasting.rig_refusals(rig_of(given))
        worn = given["worn_bore"]
        if worn is not None and worn < given["bore"]:
            refused.append(Refused("worn bore", "A nozzle wears wider; it was {} when new.", (given["bore"],)))
        return refused + _receiver_refusals(given["receiver"], given["full"], given["empty"])

    def work_out(self, bore: Quantity, pressure: Quantity, **given: Any) -> Answer:
        rig = rig_of({"bore": bore, "pressure": pressure, **given})
        takes = nozzle.nozzle_air(bore, pressure)
        need = takes + rig.other_air
        gives = _gives(rig, need, given) if rig.free_air is not None else {}
        return {
            "air": takes,
            "basis": nozzle.basis(bore, pressure),
            "pressures": rig.pressures,
            "needed": compressor.compressor_needed(takes, rig.other_air),
            "narrow_hose": blasting.hose_too_narrow(rig),
            "water": compressor.condensate(takes, *A_MILD_DAY, rig.pressures.pot, A_MILD_DAY[0]) * Quantity(1, "hour"),
            "cautions": cautions_for(["blast hose and pot", "breathing air", "noise", "static"]),
            "workings": [
                nozzle.nozzle_air_working(bore, pressure),
                nozzle.pot_working(rig.pressures),
                compressor.compressor_working(takes, rig.other_air),
                *gives.pop("workings", []),
            ],
            **_worn(takes, bore, given["worn_bore"]),
            **gives,
        }


def _receiver_refusals(receiver: Quantity | None, full: Quantity | None, empty: Quantity | None) -> list[Refused]:
    if receiver is not None and full is None:
        return [Refused("pressure when full", "Say at which pressure the receiver is full.")]
    if receiver is not None and empty is None:
        return [Refused("pressure when empty", "Say down to which pressure the nozzle may run.")]
    if full is not None and empty is not None and empty > full:
        return [Refused("pressure when empty", "This lies above {}, at which it is full.", (full,))]
    return []


def _worn(takes: Quantity, bore: Quantity, worn: Quantity | None) -> Answer:
    if worn is None:
        return {}
    wider = nozzle.wear(bore, worn)
    return {"worn": takes * wider, "more": (wider - 1).to("percent")}


def _gives(rig: Rig, need: Quantity, given: dict[str, Any]) -> dict[str, Any]:
    """What the compressor there is makes of it, with its workings."""
    answer: dict[str, Any] = {"duty": compressor.duty(rig.free_air, need), "widest": _widest(rig)}
    answer["workings"] = [compressor.duty_working(rig.free_air, need)]
    if given["receiver"] is None:
        return answer
    stored = compressor.receiver_air(given["receiver"], given["full"], given["empty"])
    run = compressor.receiver_run(stored, rig.free_air, need)
    answer["workings"] += [compressor.receiver_working(stored, rig.free_air, need)]
    return answer | {"run": None if isinf(run.magnitude) else run}


def _widest(rig: Rig) -> Quantity | None:
    """The widest nozzle it carries; None where it carries none, or any."""
    spare, pressure = rig.free_air - rig.other_air, rig.pressures.nozzle
    least, most = (nozzle.nozzle_air(Quantity(mm, "mm"), pressure) for mm in (nozzle.NARROWEST, nozzle.WIDEST))
    return nozzle.widest_bore(spare, pressure) if least <= spare <= most else None


def rig_of(given: dict[str, Any]) -> Rig:
    """The rig that the boxes describe."""
    pressures = Pressures(given["pressure"], given["feed_difference"], given["hose_loss"])
    other = given.get("other_air")
    other = Quantity(0, "m**3/minute") if other is None else other
    return Rig(given["bore"], pressures, given["most_pressure"], given["hose_bore"], given["free_air"], other)


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
    grade = forms.ChoiceField(
        label="Clean to",
        choices=[(name, f"{name} ({grade.sp}), {grade.title}") for name, grade in grit.GRADES.items()],
        initial="Sa 2½",
    )
    medium = MediumField(label="Medium", initial="crushed-glass-medium")
    gathered = forms.BooleanField(label="Gathered and used again", required=False)
    bore = millimetres("Nozzle bore", 6)
    pressure = at_the_nozzle(5)
    free_air = compressor_gives(initial=2.6, minimum=0.001)
    most_pressure = bars("The rig gives", 7, required=False)
    hose_bore = millimetres("Hose bore", 25, required=False)

    def refusals(self, given: dict[str, Any]) -> list[Refused]:
        return blasting.refusals(_job(given))

    def work_out(self, medium: Medium, metal: str, state: str, **given: Any) -> Answer:
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
