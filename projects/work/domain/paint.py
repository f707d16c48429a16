"""How much paint a project needs: the layers on its pieces as science's films, and what to buy for them.

Pieces of one part that take the same coat in the same place are reckoned once and counted.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any

from finishing.coatings.models import Coating, Layer, TinSize
from finishing.science import film, mixing
from finishing.science.surface import Range
from finishing.science.tins import Purchase, Tin, cheapest_tins
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity
from finishing.science.working import Working
from projects.record.models.designs import Part
from projects.record.models.pieces import Piece
from projects.record.models.stages import Stage
from projects.record.models.steps import Step

# the layer's method → science's; castings are open and uneven as frames are
METHODS = {Layer.Method.CONVENTIONAL: "conventional gun on frames"}
NOTHING = Range.of(Quantity(0, "L"))


@dataclass(frozen=True, eq=False)
class Coat:
    """One layer on pieces that are alike; `first` is the coat that fills the profile of blasted metal."""

    part: Part
    layer: Layer
    outdoors: bool
    first: bool
    pieces: tuple[Piece, ...]

    @property
    def method(self) -> str:
        return METHODS.get(self.layer.method, self.layer.method)

    @property
    def area(self) -> Any:
        """What it covers of one piece."""
        return self.part.area * self.layer.covers

    @property
    def dead_film(self) -> Any:
        swallowed = self.first and self.part.profile is not None
        return film.dead_film_range(self.part.profile) if swallowed else film.NO_DEAD_FILM

    @property
    def _film(self) -> dict[str, Any]:
        return {
            "area": self.area,
            "dry_film": self.layer.dry_film_used,
            "volume_solids": self.layer.coating.volume_solids,
            "loss": film.loss_of(self.method, outdoors=self.outdoors),
            "dead_film": self.dead_film,
        }

    @cached_property
    def each(self) -> Range:
        """Litres from the tin for one piece."""
        return film.paint_for_area(**self._film)

    @cached_property
    def litres(self) -> Range:
        return _scaled(self.each, len(self.pieces))

    @property
    def thinner(self) -> Range:
        thinning = self.layer.thinning_used
        return Range(*(mixing.thinner_volume(litres, thinning) for litres in _ends(self.litres)))

    @property
    def workings(self) -> list[Working]:
        dead = [film.dead_film_working(self.part.profile)] if self.dead_film is not film.NO_DEAD_FILM else []
        return [*dead, film.paint_working(**self._film)]


@dataclass(frozen=True, eq=False)
class CoatingNeed:
    """All that a project takes of one coating. `wanted` is what the tins are to hold: "high" or "likely"."""

    coating: Coating
    coats: tuple[Coat, ...]
    wanted: str

    @cached_property
    def on_pieces(self) -> Range:
        return sum((coat.litres for coat in self.coats), NOTHING)

    @cached_property
    def left_behind(self) -> Range:
        """What stays in tin or gun, once for each method that the coating is put on by."""
        by_method: dict[str, Range] = {}
        for coat in self.coats:
            by_method[coat.method] = by_method.get(coat.method, NOTHING) + coat.litres
        return sum((_left(method, litres) for method, litres in by_method.items()), NOTHING)

    @property
    def litres(self) -> Range:
        return self.on_pieces + self.left_behind

    @property
    def thinner(self) -> Range:
        return sum((coat.thinner for coat in self.coats), NOTHING)

    @property
    def additives(self) -> list[tuple[str, Any]]:
        used = [additive for additive in self.coating.additives.all() if additive.used]
        return [(one.name, mixing.additive_volume(self.litres.likely, one.dose)) for one in used]

    @property
    def components(self) -> tuple[Any, Any] | None:
        """Likely base and hardener of a two-pack."""
        if not self.coating.two_pack:
            return None
        return mixing.components(self.litres.likely, self.coating.mix_base, self.coating.mix_hardener)

    @cached_property
    def sizes(self) -> list[TinSize]:
        """The sizes with a price; where none has one, all of them."""
        sizes = list(self.coating.tin_sizes.all())
        return [size for size in sizes if size.price is not None] or sizes

    @property
    def priced(self) -> bool:
        return any(size.price is not None for size in self.sizes)

    @cached_property
    def purchase(self) -> Purchase | None:
        """The cheapest tins or kits; without prices those that leave least over. None without sizes, or over 1000 L."""
        if not self.sizes:
            return None
        offered = [Tin(size.litres, size.price or Decimal(0)) for size in self.sizes]
        try:
            return cheapest_tins(getattr(self.litres, self.wanted), offered)
        except OutsideValidity:
            return None


@dataclass(frozen=True, eq=False)
class PaintList:
    """The needs by coating, and what could not be reckoned, with the reason."""

    needs: tuple[CoatingNeed, ...]
    missing: tuple[tuple[Piece, str], ...]
    without_profile: tuple[Part, ...]
    letters: tuple[tuple[Coating | None, list[Piece]], ...]

    @property
    def cost(self) -> Decimal:
        return sum((need.purchase.cost for need in self.needs if need.purchase and need.priced), Decimal(0))

    @property
    def unpriced(self) -> list[CoatingNeed]:
        return [need for need in self.needs if need.purchase is None or not need.priced]


def paint_list(pieces: Iterable[Piece], *, all_layers: bool, wanted: str) -> PaintList:
    """The paint for these pieces, read with_log(): every layer of their systems, or only those still to do."""
    here = [piece for piece in pieces if not piece.set_aside]
    missing = [(piece, _missing(piece)) for piece in here if _missing(piece)]
    coats = _coats([piece for piece in here if not _missing(piece)], all_layers)
    by_coating = defaultdict(list)
    for coat in coats:
        by_coating[coat.layer.coating_id].append(coat)
    needs = [CoatingNeed(own[0].layer.coating, tuple(own), wanted) for own in by_coating.values()]
    no_profile = {coat.part.pk: coat.part for coat in coats if coat.first and coat.part.profile is None}
    return PaintList(
        tuple(sorted(needs, key=lambda need: need.coating.name)),
        tuple(missing),
        tuple(no_profile.values()),
        _letters(here, all_layers),
    )


def _missing(piece: Piece) -> str:
    if piece.part.area is None:
        return "no painted area"
    if piece.part.system is None:
        return "no coating system"
    return "" if piece.part.system.coats else f"{piece.part.system} has no coat yet"


def _coats(pieces: list[Piece], all_layers: bool) -> list[Coat]:
    alike = defaultdict(list)
    for piece in pieces:
        for layer in _layers(piece, all_layers):
            first = layer in first_coats(piece.part.system.coats) and not _came_clean(piece)
            alike[(piece.part_id, layer, _place(piece).outdoors, first)].append(piece)
    return [
        Coat(rack[0].part, layer, outdoors, first, tuple(rack))
        for (_, layer, outdoors, first), rack in sorted(alike.items(), key=_reading_order)
    ]


def _reading_order(entry: Any) -> Any:
    (_, layer, outdoors, first), rack = entry
    return rack[0].part.name, layer.position, outdoors, first


def _layers(piece: Piece, all_layers: bool) -> list[Layer]:
    """Coats of the system, or those still to come."""
    if all_layers or piece.state.stage == Stage.RAW:
        return piece.part.system.coats
    return [layer for layer in piece.state.coming if layer.is_coat]


def first_coats(coats: list[Layer]) -> list[Layer]:
    """The coats that meet bare metal: the first on each side."""
    found = []
    for side in (Layer.Side.FIRST, Layer.Side.SECOND):
        first = next((coat for coat in coats if coat.side in (Layer.Side.ALL, side)), None)
        found += [first] if first and first not in found else []
    return found


def _came_clean(piece: Piece) -> bool:
    """Not blasted, so there is no profile to fill."""
    bare_at = piece.state.blasted_at
    return piece.state.stage != Stage.RAW and any(
        step.kind == Step.Kind.CAME_CLEAN and step.happened_at == bare_at for step in piece.steps.all()
    )


def _place(piece: Piece) -> Any:
    return piece.state.moves[-1][1] if piece.state.moves else piece.place


def _letters(pieces: list[Piece], all_layers: bool) -> tuple[tuple[Coating | None, list[Piece]], ...]:
    """Pieces whose raised letters are to be picked out, by their paint."""
    by_coating: dict[Any, tuple[Coating | None, list[Piece]]] = {}
    for piece in pieces:
        due = piece.part.has_letters and not piece.state.letters_skipped
        if due and (all_layers or piece.state.stage != Stage.LETTERED):
            coating = piece.part.lettering_coating
            by_coating.setdefault(coating and coating.pk, (coating, []))[1].append(piece)
    return tuple(by_coating.values())


def _ends(spread: Range) -> tuple[Any, Any, Any]:
    return spread.low, spread.likely, spread.high


def _scaled(spread: Range, count: int) -> Range:
    return Range(*(end * count for end in _ends(spread)))


def _left(method: str, litres: Range) -> Range:
    return Range(
        film.left_behind(method, litres.low).low,
        film.left_behind(method, litres.likely).likely,
        film.left_behind(method, litres.high).high,
    )
