"""Paint sessions of a plan: racks that get one paint one after the other are one mix, decanted once."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache, cached_property
from itertools import groupby

import numpy as np

from finishing.air.domain.outside_air import WorkshopAir
from finishing.coatings.models import Coating, Layer
from finishing.science import mixing
from finishing.science.sources import COMMON_PRACTICE
from finishing.science.units import Quantity
from finishing.science.working import Working
from finishing.workshops.models import Place, Workshop
from projects.record.domain.states import read_states
from projects.record.models.pieces import Piece
from projects.record.models.plans import Slot

from .paint import Coat, CoatingNeed, coats_of

SHORTEST = 0.05  # hours of painting that a mix is reckoned for at the least
A_DAY = timedelta(days=1)
COLDEST, HOTTEST = -10.0, 60.0  # °C between which a pot life is known

Hottest = Callable[[Place, datetime, datetime], float | None]


@dataclass(frozen=True, eq=False)
class PaintMix:
    """The coats that one mix is for, in order. hottest: °C of the air meanwhile; None where it is not known.

    around: hours of mixing before the first stroke and of cleaning after the last one
    """

    slots: tuple[Slot, ...]
    need: CoatingNeed[Coat]
    around: float
    hottest: float | None

    @property
    def coating(self) -> Coating:
        return self.need.coating

    @property
    def begin(self) -> datetime:
        return self.slots[0].begin

    @property
    def end(self) -> datetime:
        return max(slot.end for slot in self.slots)

    @property
    def racks(self) -> list[str]:
        return list(dict.fromkeys(slot.rack for slot in self.slots))

    @property
    def litres(self) -> Quantity:
        """From the tin, likely, with what stays in tin, pot or gun."""
        return self.need.litres.likely

    @property
    def waste(self) -> Quantity:
        """What of it stays there and is cleaned away."""
        return self.need.left_behind.likely

    @cached_property
    def recipe(self) -> mixing.Recipe:
        """As the coat's layer and the paint's sheet say; base and hardener are weighed or measured out."""
        layer, coating = self.need.coats[0].layer, self.coating
        points, base, hardener = coating.pot_life_points(), coating.mix_base, coating.mix_hardener
        return mixing.Recipe(
            thinning=layer.thinning_used or mixing.NOTHING,
            parts=(base, hardener) if coating.two_pack and base and hardener else None,
            pot_life=mixing.pot_life(self._mixed_at(points), points) if points else None,
            induction=coating.induction,
        )

    def _mixed_at(self, points: list[mixing.PotLifePoint]) -> Quantity:
        """The hottest hour's, or, where no air is known, the warmest that the sheet speaks of."""
        degrees = max(point.temperature for point in points) if self.hottest is None else self.hottest
        return Quantity(min(max(degrees, COLDEST), HOTTEST), "degC")

    @cached_property
    def mixed(self) -> mixing.Session:
        """Its pots: no bigger than what is used in half the pot life."""
        painting = (self.end - self.begin) / timedelta(hours=1) - self.around
        return mixing.mix_for_session(self.litres, Quantity(max(painting, SHORTEST), "hour"), self.recipe)

    @property
    def pots(self) -> list[tuple[int, mixing.Mix]]:
        """So many that are alike, and what is in each."""
        return [(len(list(alike)), mix) for mix, alike in groupby(self.mixed.mixes)]

    @property
    def workings(self) -> list[Working]:
        stays = Working(
            "stays in tin, pot or gun",
            "a share of the tin by brush; so much each time by gun",
            (("on the pieces", f"{self.need.on_pieces.likely:.3g~P}"),),
            f"{self.waste:.3g~P}",
            COMMON_PRACTICE,
        )
        points = self.coating.pot_life_points()
        lives = [mixing.pot_life_working(self._mixed_at(points), points)] if points else []
        return [*(working for coat in self.need.coats for working in coat.workings), stays, *lives]


def pieces_planned(slots: Iterable[Slot]) -> list[Piece]:
    """All that these steps of plans are for, with their states."""
    return read_states(Piece.objects.filter(slots__in=[slot.pk for slot in slots]).distinct())


def may_share_a_mix(slots: Iterable[Slot], shown: Sequence[Slot]) -> list[Slot]:
    """Of a plan's steps those that are shown, and what may share a mix with one: none is in use for a whole day."""
    if not shown:
        return []
    first, last = min(slot.begin for slot in shown), max(slot.begin for slot in shown)
    return [slot for slot in slots if first - A_DAY < slot.begin < last + A_DAY]


def paint_sessions(
    workshop: Workshop, slots: Iterable[Slot], pieces: Iterable[Piece], hottest: Hottest | None = None
) -> list[PaintMix]:
    """Of these steps of a plan, those that coat, by when each mix is begun. Letters take what the smallest tin holds.

    One mix is for coats of one paint, thinned and stirred alike, by one method, as `mixing.in_sessions` has them. A
    holding primer that is no layer yet has no film to reckon with.
    pieces: those of the steps, with their states; what is not among them, or has no area any more, is not counted
    """
    here = {piece.pk: piece for piece in pieces if piece.part.area is not None}
    alike: dict[Hashable, list[PlannedCoat]] = defaultdict(list)
    mixed_alike = cache(_mixed_alike)  # a plan has each layer many times
    for slot in slots:
        coated = [here[pk] for pk in slot.piece_ids if pk in here] if slot.kind == Slot.Kind.COAT else []
        layer = next((layer for piece in coated[:1] for layer in _layers(piece) if layer.pk == slot.layer_id), None)
        if layer is not None and layer.is_coat:
            alike[mixed_alike(layer)].append(PlannedCoat(slot, layer, coated))
    mixes = [
        [coats[number] for number in together]
        for coats in alike.values()
        for together in mixing.in_sessions([coat.minutes for coat in coats])
    ]
    return sorted((_session(workshop, mix, hottest) for mix in mixes), key=lambda session: session.begin)


@dataclass(frozen=True, eq=False)
class PlannedCoat:
    """A step that coats, with its layer and its pieces as they were read together."""

    slot: Slot
    layer: Layer
    pieces: list[Piece]

    @property
    def minutes(self) -> tuple[int, int]:
        return int(self.slot.begin.timestamp() // 60), int(self.slot.end.timestamp() // 60)


def _layers(piece: Piece) -> list[Layer]:
    return list(piece.part.system.layers.all()) if piece.part.system else []


def _mixed_alike(layer: Layer) -> Hashable:
    additives = frozenset(additive.pk for additive in layer.additives.all())
    return layer.coating_id, layer.method, str(layer.thinning_used), additives


def _session(workshop: Workshop, planned: list[PlannedCoat], hottest: Hottest | None) -> PaintMix:
    coats = coats_of((piece, one.layer, one.slot.place.outdoors) for one in planned for piece in one.pieces)
    slots, coating = tuple(one.slot for one in planned), coats[0].coating
    around = (workshop.rates.around_a_coat + coating.induction_minutes) / 60
    known = [hottest(slot.place, slot.begin, slot.end) if hottest else None for slot in slots]
    warmest = max((degrees for degrees in known if degrees is not None), default=None)
    need = CoatingNeed(coating, tuple(coats), "likely")
    return PaintMix(slots, need, around, None if None in known else warmest)


def hottest_in(air: WorkshopAir) -> Hottest:
    """From the hours that are known; None beyond them."""

    def hottest(place: Place, begin: datetime, end: datetime) -> float | None:
        there = air.of(place)
        first, last = int(there.position(begin)), int(there.position(end)) + 1
        hours = there.temperature[max(first, 0) : last]
        return float(np.max(hours)) if 0 <= first < len(there) and not np.isnan(hours).any() else None

    return hottest
