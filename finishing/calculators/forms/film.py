"""Film and paint: wet and dry thickness, how far a litre goes, how much to buy, what to mix, air for solvents."""

import re
from decimal import Decimal
from itertools import groupby
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from finishing.science import film, mixing, ventilation
from finishing.science.cautions import cautions_for
from finishing.science.tins import Tin, cheapest_tins
from finishing.science.units import Quantity
from finishing.site.fields import IMPERIAL, METRIC, US, QuantityFormField, pint_unit, read_quantity, shown_unit
from finishing.site.numbers import SYMBOLS, NoNumber, read_money
from finishing.workshops.forms.fields import NumberField

from .choices import ChosenPaint, PaintField
from .question import Answer, Question, one_of

GROUP = "Film and paint"
MOST_SIZES = 6  # each size and each millilitre is tried
# a spreading rate by pint and in print, and what a maker of tins offers
RATES = {
    METRIC: ("m**2/L", "m²/L"),
    US: ("ft**2/gallon", "ft²/gal"),
    IMPERIAL: ("ft**2/imperial_gallon", "ft²/imp gal"),
}
TINS_FOR_EXAMPLE = {
    METRIC: "1 L 18.50\n2.5 L 39.00",
    US: "1 qt 22.00\n1 gal 68.00",
    IMPERIAL: "1 imp pt 12.00\n1 imp gal 71.00",
}


def solids(**kwargs: Any) -> QuantityFormField:
    kwargs = {"initial": Quantity(45, "percent"), "help_text": "By volume, from the tin's sheet.", **kwargs}
    return QuantityFormField(label="Volume solids", unit="%", minimum=1, maximum=100, **kwargs)


def dry_film(**kwargs: Any) -> QuantityFormField:
    kwargs = {"initial": Quantity(40, "µm"), **kwargs}
    return QuantityFormField(label="Dry film of a coat", unit="µm", minimum=1, maximum=2000, **kwargs)


def thinner(**kwargs: Any) -> QuantityFormField:
    kwargs = {"initial": Quantity(0, "percent"), "help_text": "10 % is 100 mL in a litre of paint.", **kwargs}
    return QuantityFormField(label="Thinner added", unit="%", minimum=0, maximum=200, **kwargs)


class WetAndDry(Question):
    name = "wet-film"
    title = "How thick must it be wet?"
    about = "What the comb must read for a dry film, or what a wet film dries to."
    group = GROUP

    dry_film = dry_film(required=False, help_text="Give this one to learn the wet film,")
    wet_film = QuantityFormField(
        label="Wet film by the comb",
        unit="µm",
        minimum=1,
        maximum=5000,
        required=False,
        help_text="or this one to learn the dry film.",
    )
    volume_solids = solids()
    thinning = thinner(initial=Quantity(10, "percent"))

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        films = [given.get(name) for name in ("dry_film", "wet_film")]
        if not self.errors and None not in films:
            self.add_error("wet_film", "Empty one of the two films: the other follows from it.")
        if not self.errors and films == [None, None]:
            self.add_error("dry_film", "Give the dry film or the wet film.")
        return given

    def work_out(
        self, dry_film: Quantity | None, wet_film: Quantity | None, volume_solids: Quantity, thinning: Quantity
    ) -> Answer:
        if wet_film is None:
            return {
                "wet_film": film.wet_film_from_dry_film(dry_film, volume_solids, thinning),
                "workings": [film.wet_film_working(dry_film, volume_solids, thinning)],
            }
        return {
            "dry_film": film.dry_film_from_wet_film(wet_film, volume_solids, thinning),
            "workings": [film.dry_film_working(wet_film, volume_solids, thinning)],
        }


class HowFar(Question):
    name = "spreading-rate"
    title = "How far does a litre go?"
    about = "Spreading rate on paper and in practice, when some of the paint is lost on the way."
    group = GROUP

    volume_solids = solids()
    dry_film = dry_film()
    method = one_of("Put on by", film.METHODS)

    def work_out(self, volume_solids: Quantity, dry_film: Quantity, method: str) -> Answer:
        rate, loss = film.spreading_rate(volume_solids, dry_film), film.loss_of(method)
        unit = RATES[self.asker.measures]
        practical = {
            name: film.practical_spreading_rate(rate, share).to(unit[0]).magnitude
            for name, share in (("worst", loss.high), ("likely", loss.likely), ("best", loss.low))
        }
        return {
            "rate": rate.to(unit[0]).magnitude,
            "per": unit[1],
            "practical": practical,
            "loss": loss,
            "workings": [
                film.spreading_rate_working(volume_solids, dry_film),
                film.practical_spreading_rate_working(rate, loss.likely),
            ],
        }


class TinsField(forms.CharField):
    """Lines like "2.5 L 41.00": a size and its price. Gives tins, or nothing."""

    widget = forms.Textarea(attrs={"rows": 3, "cols": 20, "spellcheck": "false"})
    measures = METRIC

    def clean(self, value: Any) -> list[Tin]:
        lines = [line.strip() for line in re.split(r"[\n;]", super().clean(value)) if line.strip()]
        if len(lines) > MOST_SIZES:
            raise ValidationError(f"At most {MOST_SIZES} sizes.")
        return [self._tin(number, line) for number, line in enumerate(lines, start=1)]

    def _tin(self, number: int, line: str) -> Tin:
        size, _, price = line.replace("=", " ").rpartition(" ")
        try:
            litres = read_quantity(size, "L", shown_unit("L", self.measures))
            return Tin(Quantity(litres, pint_unit("L")), money(price))
        except (ValidationError, NoNumber):
            shown = shown_unit("L", self.measures)
            raise ValidationError(
                f"Line {number}, “{line[:40]}”: write a size and its price, for example 2.5 {shown} 41.00."
            ) from None


def money(text: str) -> Decimal:
    """A sum with a point or a comma, with or without its sign; NoNumber or ValidationError for what is no sum."""
    return read_money(text, SYMBOLS.get(text.strip("0123456789., "), ""), comma_is_point=None)


class PaintNeeded(Question):
    name = "paint-needed"
    title = "How much paint must I buy?"
    about = "Litres with their range, thinner, and the cheapest tins that hold them."
    group = GROUP
    boxes = {"coats": "coats", "paint needed": "area", "loss": "method"}

    area = QuantityFormField(label="Area", unit="m²", minimum=0.001, maximum=500, initial=Quantity(4.2, "m**2"))
    coats = forms.IntegerField(label="Coats of it", min_value=1, max_value=20, initial=2)
    paint = PaintField(none="none of these: I fill in the boxes", required=False, label="Fill in from")
    volume_solids = solids(required=False)
    dry_film = dry_film(required=False)
    thinning = thinner(required=False, initial=Quantity(10, "percent"))
    profile = QuantityFormField(
        label="Blasted profile under it",
        unit="µm",
        minimum=0,
        maximum=300,
        required=False,
        help_text="Its valleys swallow paint of the first coat. Empty: not on blasted metal.",
    )
    method = one_of("Put on by", film.METHODS)
    outdoors = forms.BooleanField(label="Sprayed outdoors", required=False)
    spoked = forms.BooleanField(label="Spokes and other open shapes", required=False)
    tins = TinsField(label="Tins on offer, one a line: size and price", required=False)

    def arrange(self) -> None:
        tins = self.fields["tins"]
        assert isinstance(tins, TinsField)
        tins.measures = self.asker.measures
        tins.initial = TINS_FOR_EXAMPLE[self.asker.measures]

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        coating = given["paint"].coating if given.get("paint") else None
        for name in ("volume_solids", "dry_film"):
            if name in given and given[name] is None and coating is None:
                self.add_error(name, "Give this, or choose a paint to take it from.")
        return given

    def work_out(self, area: Quantity, paint: ChosenPaint | None, tins: list[Tin], **given: Any) -> Answer:
        solids, dry_film, thinning = (_box_or_sheet(name, given, paint) for name in FROM_SHEET)
        loss = film.loss_of(given["method"], outdoors=given["outdoors"], spoked=given["spoked"])
        profile = given["profile"]
        dead = film.dead_film_range(profile) if profile is not None and profile.magnitude else film.NO_DEAD_FILM
        much = {"coats": given["coats"], "dead_film": dead}
        litres = film.paint_for_area(area, dry_film, solids, loss, **much)
        left = film.left_behind(given["method"], litres.likely)
        needed = litres.likely + left.likely
        return {
            "litres": litres,
            "left": left,
            "needed": needed,
            "loss": loss,
            "thinning": thinning,
            "thinner": mixing.thinner_volume(needed, thinning),
            "wet_film": film.wet_film_from_dry_film(dry_film, solids, thinning),
            "purchase": cheapest_tins(needed, tins) if tins else None,
            "workings": [
                film.paint_working(area, dry_film, solids, loss, **much),
                film.wet_film_working(dry_film, solids, thinning),
                mixing.thinner_working(needed, thinning),
            ],
        }


FROM_SHEET = ("volume_solids", "dry_film", "thinning")


def _box_or_sheet(name: str, given: dict[str, Any], paint: ChosenPaint | None) -> Quantity:
    if given[name] is not None:
        return given[name]
    return getattr(paint.coating, name) if paint else mixing.NOTHING


class Mixing(Question):
    name = "mixing"
    title = "What do I mix for one session?"
    about = "Base, hardener and thinner in pots small enough to be used before they go off."
    group = GROUP
    boxes = {
        "temperature": "temperature",
        "working time": "work",
        "parts of base": "base",
        "parts of hardener": "hardener",
        "kit size": "kit",
        "pot life": "pot_life",
        "standing after mixing": "induction",
        "dose of additive": "additive",
    }

    litres = QuantityFormField(
        label="Paint for this session", unit="L", minimum=0.001, maximum=1000, initial=Quantity(1.5, "L")
    )
    work = QuantityFormField(
        label="Time to put it on", unit="min", minimum=3, maximum=1440, initial=Quantity(180, "minute")
    )
    temperature = QuantityFormField(
        label="Temperature of the paint", unit="°C", minimum=-10, maximum=60, initial=Quantity(24, "degC")
    )
    base = NumberField(label="Parts of base, by volume", min_value=0.01, max_value=1000, initial=4, required=False)
    hardener = NumberField(
        label="Parts of hardener",
        min_value=0.01,
        max_value=1000,
        initial=1,
        required=False,
        help_text="Both empty: paint without hardener.",
    )
    pot_life = QuantityFormField(
        label="Pot life by the sheet",
        unit="min",
        minimum=1,
        maximum=10_000,
        required=False,
        initial=Quantity(120, "minute"),
    )
    induction = QuantityFormField(
        label="Stands after mixing",
        unit="min",
        minimum=0,
        maximum=240,
        required=False,
        help_text="As the sheet says, before the first stroke; 10 to 30 min are common.",
    )
    pot_life_at = QuantityFormField(
        label="Which holds at", unit="°C", minimum=-10, maximum=60, required=False, initial=Quantity(20, "degC")
    )
    thinning = thinner(required=False)
    additive = QuantityFormField(
        label="Additive",
        unit="%",
        minimum=0,
        maximum=50,
        required=False,
        help_text="Retarder or brushing additive, of the paint, as its sheet doses it.",
    )
    kit = QuantityFormField(
        label="One kit makes",
        unit="L",
        minimum=0.01,
        maximum=250,
        required=False,
        help_text="Empty: base and hardener are measured out. A kit is never split.",
    )

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        self._ask_together(given, "base", "hardener", "A two-pack needs its parts of base and of hardener.")
        self._ask_together(given, "pot_life", "pot_life_at", "Give the pot life together with its temperature.")
        return given

    def _ask_together(self, given: dict[str, Any], one: str, other: str, words: str) -> None:
        if one in given and other in given and (given[one] is None) != (given[other] is None):
            self.add_error(one if given[one] is None else other, words)

    def work_out(
        self,
        litres: Quantity,
        work: Quantity,
        temperature: Quantity,
        base: float | None,
        hardener: float | None,
        pot_life: Quantity | None,
        pot_life_at: Quantity | None,
        induction: Quantity | None,
        thinning: Quantity | None,
        additive: Quantity | None,
        kit: Quantity | None,
    ) -> Answer:
        thinned = mixing.NOTHING if thinning is None else thinning
        points = []
        if pot_life is not None and pot_life_at is not None:
            points = [mixing.PotLifePoint(pot_life_at.magnitude, pot_life.to("hour").magnitude)]
        recipe = mixing.Recipe(
            thinning=thinned,
            additive=mixing.NOTHING if additive is None else additive,
            parts=(base, hardener) if base and hardener else None,
            pot_life=mixing.pot_life(temperature, points) if points else None,
            induction=induction,
            kit=kit,
        )
        workings = [mixing.thinner_working(litres, thinned)]
        session = mixing.mix_for_session(litres, work, recipe)
        return {
            "session": session,
            "pots": [(len(list(alike)), mix) for mix, alike in groupby(session.mixes)],
            "recipe": recipe,
            "workings": workings + ([mixing.pot_life_working(temperature, points)] if points else []),
        }


class SolventAir(Question):
    name = "solvent-air"
    title = "What air keeps solvent from burning?"
    about = "Fresh air that keeps the vapour of drying paint below a quarter of what burns."
    group = GROUP
    boxes = {"solvent": "liquid"}

    liquid = QuantityFormField(
        label="Solvent that dries off",
        unit="L",
        minimum=0.01,
        maximum=1000,
        initial=Quantity(0.5, "L"),
        help_text="Of the paint what is not solids, and the thinner.",
    )
    solvent = one_of("Solvent", ventilation.SOLVENTS, initial="white spirit")

    def work_out(self, liquid: Quantity, solvent: str) -> Answer:
        return {
            "air": ventilation.dilution_air(liquid, ventilation.SOLVENTS[solvent]),
            "cautions": cautions_for(["solvent"]),
            "workings": [ventilation.dilution_working(liquid, solvent)],
        }
