"""What blasting, painting and lettering take, for any number of machines, as the finishing side knows it.

Minutes come from areas and the workshop's rates, paint from the systems' layers in whole tins, and a contractor's day
from his last visit. Nothing of it is typed for the costs.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cached_property
from math import ceil

from finishing.coatings.models import Additive, Coating, Layer, turned_for
from finishing.media.models import Medium
from finishing.science import blasting
from finishing.science.mixing import additive_volume
from finishing.science.surface import Range
from finishing.science.tins import Purchase
from finishing.science.units import Quantity
from finishing.science.work_time import Rates, lettering_minutes, wiping_minutes
from finishing.workshops.models import Workshop
from projects.money.rounding import cents
from projects.record.models.designs import Part
from projects.record.models.routes import Operation
from projects.record.models.visits import Visit
from projects.work.domain import blast_advice
from projects.work.domain.paint import NOTHING, Coat, CoatingNeed, first_coats

Process, Blasted = Operation.Process, Part.Blasted
LIKELY = "likely"


@dataclass(frozen=True, eq=False)
class CoatsToCome:
    """All coats of one paint by one method, on machines that are not there yet; `each` is what one machine takes, and
    `stirred_in` what of each additive goes into that."""

    method: str
    each: Range
    machines: int
    stirred_in: dict[Additive, Quantity] = field(default_factory=dict)

    @cached_property
    def litres(self) -> Range:
        return _times(self.each, self.machines)

    @property
    def additives(self) -> list[tuple[Additive, Quantity]]:
        return [(additive, volume * self.machines) for additive, volume in self.stirred_in.items()]


@dataclass(frozen=True)
class PaintSession:
    """One coat of one paint on all parts that get it. `minutes`: to put it on one machine; `turned`: parts are turned
    over for it."""

    what: str
    minutes: float
    rates: Rates
    turned: bool = False

    @property
    def machines(self) -> Decimal:
        """How many are coated in one session: as many as a day holds, less than one where one takes longer."""
        return _minutes(self.rates.day) / _minutes(self.minutes)


def coat_minutes(parts: Iterable[tuple[Part, int]]) -> dict[tuple[Coating, int], float]:
    """Minutes for the first coat of each paint, its second …, on so many of each part; by paint and number of the coat.

    A part's first coat of a paint is put on with that of all others, whatever lies below it.
    """
    minutes: dict[tuple[Coating, int], float] = defaultdict(float)
    for part, count in parts:
        for key, layer in _numbered(part):
            minutes[key] += layer.minutes_on(part.square_metres or 0.0) * count
    return {key: own for key, own in minutes.items() if own}


def turned_coats(parts: Iterable[Part]) -> set[tuple[Coating, int]]:
    """Those of `coat_minutes` for which parts are turned over."""
    return {key for part in parts for key, layer in _numbered(part) if layer in turned_for(_in_order(part))}


def _numbered(part: Part) -> Iterator[tuple[tuple[Coating, int], Layer]]:
    so_far: Counter[Coating] = Counter()
    for layer in _in_order(part):
        if layer.is_coat and layer.coating is not None and part.square_metres is not None:
            so_far[layer.coating] += 1
            yield (layer.coating, so_far[layer.coating]), layer


def _in_order(part: Part) -> list[Layer]:
    return sorted(part.system.layers.all(), key=lambda layer: layer.position) if part.system else []


@dataclass(frozen=True)
class Bought:
    """Something bought for the whole batch: paint in tins, or a contractor's days."""

    what: str
    told: str
    cost: Decimal


@dataclass(frozen=True, eq=False)
class Finishing:
    """Of a design's parts, read with their systems' layers and coatings; `processes` are those on each part's route."""

    workshop: Workshop
    processes: dict[Part, frozenset[str]]

    def minutes(self, part: Part, process: str) -> Decimal:
        """Of our own hands for one piece; what a contractor does on his visit is not ours."""
        area, rates = part.square_metres, self.workshop.rates
        if area is None:
            return Decimal(0)
        if process == Process.BLASTING:  # masked before and wiped after, whoever blasts it
            if self.blasted(part) == Blasted.CLEAN:
                return Decimal(0)
            own = rates.to_blast(area) if self.blasted(part) == Blasted.HERE else 0.0
            return _minutes(rates.to_mask(area) + wiping_minutes(area) + own)
        if process == Process.PAINTING:  # what is around a session of a paint, all parts bear together: `sessions`
            return sum((_minutes(layer.minutes_on(area)) for layer in _in_order(part)), Decimal(0))
        return _minutes(lettering_minutes(1))

    @cached_property
    def sessions(self) -> list[PaintSession]:
        """Every coat of each paint on a machine, in which all parts are coated that get it."""
        coated = [(part, part.quantity) for part in self._with(Process.PAINTING)]
        turned = turned_coats(part for part, _ in coated)
        return [
            PaintSession(f"{coating}, coat {number}", minutes, self.workshop.rates, (coating, number) in turned)
            for (coating, number), minutes in coat_minutes(coated).items()
        ]

    def lacking(self, part: Part, process: str) -> str:
        """What must be known before it can be worked out."""
        if part.area is None:
            return "the part has no painted area"
        if process == Process.PAINTING and not _in_order(part):
            return "the part has no coating system"
        if process == Process.LETTERING and part.lettering_coating is None:
            return "the letters have no paint"
        if process == Process.BLASTING and self.blasted(part) == Blasted.CONTRACTOR and not self.last_visit:
            return "no visit tells what a blasting contractor asks"
        return ""

    def blasted(self, part: Part) -> Part.Blasted:
        return part.blasted_by(self.own_cabinet)

    def paint(self, machines: int) -> list[Bought]:
        """Whole tins for so many machines, and what is stirred in; what has no price has no cost, and `unpriced` and
        `unpriced_additives` name it."""
        bought = []
        for need in self._needs(machines):
            if need.priced and need.purchase:
                bought.append(Bought(str(need.coating), _tins(need.purchase), need.purchase.cost))
            for dose in need.additives:
                if dose.cost is not None:
                    what = f"{dose.additive}, in {need.coating}"
                    bought.append(Bought(what, f"{dose.volume.to('L'):.3g~P}", dose.cost))
        return bought

    @cached_property
    def unpriced(self) -> list[Coating]:
        return [need.coating for need in self._needs(1) if not (need.priced and need.purchase)]

    @cached_property
    def unpriced_additives(self) -> list[Additive]:
        return [dose.additive for need in self._needs(1) for dose in need.additives if dose.cost is None]

    def blasting(self, machines: int) -> list[Bought]:
        """The contractor's days at the terms of his last visit, by the workshop's own minutes for a square metre."""
        visit, minutes = self.last_visit, self.blast_minutes(machines)
        if visit is None or not minutes:
            return []
        days = ceil(minutes / visit.minutes)
        cost = visit.asks.cost(minutes, days)
        told = f"{days} day{'s' * (days > 1)}, {minutes} min, as {visit.contractor} last asked"
        return [Bought("blasting contractor", told, cost)]

    def blast_minutes(self, machines: int) -> int:
        area = sum((part.square_metres or 0.0) * part.quantity for part in self._blasted(Blasted.CONTRACTOR))
        return ceil(_minutes(self.workshop.rates.to_blast(area)) * machines)

    def grit(self, machines: int) -> list[Bought]:
        """Our own grit in whole bags, and getting rid of it; a medium without a price of a bag has no cost."""
        bought = []
        for medium, one in self._grit_of_one.items():
            if medium.price is not None and (bags := blasting.bags(_times(one, machines), medium.bag)):
                cost = cents(bags.likely * (medium.price + (medium.disposal or 0)))
                told = f"{bags.likely} bag{'s' * (bags.likely > 1)}, {bags.low} to {bags.high}, spent ones taken away"
                bought.append(Bought(str(medium), told, cost))
        return bought

    @property
    def without_grit(self) -> list[Part]:
        """Blasted here, and no medium in our list suits them."""
        return [part for part in self._blasted(Blasted.HERE) if self._medium(part) is None]

    @cached_property
    def unpriced_grit(self) -> list[Medium]:
        return [medium for medium in self._grit_of_one if medium.price is None or medium.bag is None]

    @cached_property
    def _grit_of_one(self) -> dict[Medium, Range]:
        """What one machine takes of each medium: gathered in the cabinet, and used again where that can be."""
        needs: dict[Medium, Range] = {}
        for part in self._blasted(Blasted.HERE):
            if medium := self._medium(part):
                state, shape = blast_advice.surface_of_new(part), blast_advice.shape_of(part)
                thrown = blasting.thrown_on(
                    part.area, blasting.usual_use(medium.value()), blast_advice.GRADE, state, shape
                )
                own = _times(blasting.to_buy(thrown, medium.value(), gathered=True), part.quantity)
                needs[medium] = needs[medium] + own if medium in needs else own
        return needs

    def _medium(self, part: Part) -> Medium | None:
        """The best suited of those that stand in our list."""
        return blast_advice.medium_for(part, blast_advice.surface_of_new(part), self._media)

    @cached_property
    def _media(self) -> list[Medium]:
        return list(Medium.objects.of(self.workshop).filter(retired=False))

    def _blasted(self, by: str) -> list[Part]:
        return [part for part in self._with(Process.BLASTING) if self.blasted(part) == by]

    @cached_property
    def last_visit(self) -> Visit | None:
        return Visit.objects.of(self.workshop).filter(cancelled_at=None).order_by("-date", "-begins").first()

    @cached_property
    def own_cabinet(self) -> bool:
        return self.workshop.has_cabinet

    def _with(self, process: str) -> list[Part]:
        return [part for part, there in self.processes.items() if process in there and part.area is not None]

    def _needs(self, machines: int) -> list[CoatingNeed[CoatsToCome]]:
        return [
            CoatingNeed(coating, tuple(replace(coats, machines=machines) for coats in by_method.values()), LIKELY)
            for coating, by_method in self._one_machine.items()
        ]

    @cached_property
    def _one_machine(self) -> dict[Coating, dict[str, CoatsToCome]]:
        """What one machine takes, by coating and method, worked out once."""
        found: dict[Coating, dict[str, CoatsToCome]] = defaultdict(dict)
        for part in self._with(Process.PAINTING):
            for coat in self._coats(part):
                before = found[coat.coating].get(coat.method, CoatsToCome(coat.method, NOTHING, 1))
                stirred_in = dict(before.stirred_in)
                for additive in coat.layer.additives.all():
                    dose = additive_volume(coat.each.likely * part.quantity, additive.dose)
                    stirred_in[additive] = stirred_in[additive] + dose if additive in stirred_in else dose
                each = before.each + _times(coat.each, part.quantity)
                found[coat.coating][coat.method] = replace(before, each=each, stirred_in=stirred_in)
        return dict(sorted(found.items(), key=lambda item: item[0].name))

    def _coats(self, part: Part) -> Iterator[Coat]:
        coats = [layer for layer in _in_order(part) if layer.is_coat]
        for layer in coats:
            yield Coat(part, layer, False, layer in first_coats(coats), ())


def _times(spread: Range, count: int) -> Range:
    return Range(spread.low * count, spread.likely * count, spread.high * count)


def _minutes(minutes: float) -> Decimal:
    return Decimal(str(round(minutes, 4)))


def _tins(purchase: Purchase) -> str:
    tins = ", ".join(f"{count} × {tin.size:~P}" for tin, count in purchase.tins)
    return f"{tins}, {purchase.left_over:.2g~P} over"
