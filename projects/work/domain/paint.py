"""How much paint a project needs: the layers on its pieces as science's films, and what to buy for them.

Pieces of one part that take the same coat in the same place are reckoned once and counted.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property, lru_cache
from typing import Generic, Protocol, TypeVar
from uuid import UUID

from finishing.coatings.models import Additive, Coating, Layer, TinSize, known
from finishing.science import film, mixing
from finishing.science.surface import Range
from finishing.science.tins import Purchase, Tin, cheapest_tins
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity
from finishing.science.working import Working
from finishing.site.fields import number, pint_unit
from projects.money.rounding import cents
from projects.record.models.designs import Part
from projects.record.models.pieces import Piece
from projects.record.models.stages import Stage

from .letters import letters_face, letters_paint

# the layer's method → science's; castings are open and uneven as frames are
METHODS: dict[str, str] = {Layer.Method.CONVENTIONAL: "conventional gun on frames"}
LITRE = pint_unit("L")
NOTHING = Range.of(Quantity(0, LITRE))
ONE = Quantity(1, "m**2")


@dataclass(frozen=True, eq=False)
class Coat:
    """One layer on pieces that are alike; `first` is the coat that fills the profile of blasted metal."""

    part: Part
    layer: Layer
    outdoors: bool
    first: bool
    pieces: tuple[Piece, ...]

    @property
    def coating(self) -> Coating:
        assert self.layer.coating is not None  # a coat has one
        return self.layer.coating

    @property
    def method(self) -> str:
        return METHODS.get(self.layer.method, self.layer.method)

    @property
    def area(self) -> Quantity:
        """What it covers of one piece."""
        assert self.part.area is not None  # a part without is named as missing
        return self.part.area * self.layer.covers

    @property
    def dead_film(self) -> Range:
        swallows = self.first and self.part.profile is not None
        return film.dead_film_range(self.part.profile) if swallows else film.NO_DEAD_FILM

    @cached_property
    def each(self) -> Range:
        """Litres from the tin for one piece."""
        return _of_litres(self._litres_each)

    @cached_property
    def litres(self) -> Range:
        return _of_litres(litres * len(self.pieces) for litres in self._litres_each)

    @cached_property
    def _litres_each(self) -> tuple[float, float, float]:
        area, dry_film = self.part.square_metres, number(self.layer, "dry_film")
        if dry_film is None:
            dry_film = known(self.coating, "dry_film")
        assert area is not None  # a part without is named as missing
        low, likely, high = _litres_on_a_square_metre(
            dry_film,
            known(self.coating, "volume_solids"),
            self.method,
            self.outdoors,
            number(self.part, "profile") if self.first else None,
        )
        area *= self.layer.covers
        return low * area, likely * area, high * area

    @cached_property
    def thinner(self) -> Range:
        thinning = self.layer.thinning_used
        return Range(*(mixing.thinner_volume(litres, thinning) for litres in _ends(self.litres)))

    @property
    def additives(self) -> list[tuple[Additive, Quantity]]:
        """What is stirred into the likely litres of this layer."""
        return [(one, mixing.additive_volume(self.litres.likely, one.dose)) for one in self.layer.additives.all()]

    @property
    def workings(self) -> list[Working]:
        dead_film = self.dead_film
        dead = [film.dead_film_working(self.part.profile)] if dead_film is not film.NO_DEAD_FILM else []
        loss = film.loss_of(self.method, outdoors=self.outdoors)
        litres = film.paint_working(
            self.area, self.layer.dry_film_used, self.coating.volume_solids, loss, dead_film=dead_film
        )
        return [*dead, litres]

    @property
    def key(self) -> str:
        """Names it among the coats of a list."""
        return f"{self.part.pk.hex}{self.layer.pk.hex}{self.outdoors:d}{self.first:d}"


@lru_cache(maxsize=1000)
def _litres_on_a_square_metre(
    dry_film: float, volume_solids: float, method: str, outdoors: bool, profile: float | None
) -> tuple[float, float, float]:
    """Low, likely and high, by µm and per cent: the same for every part that gets this film so, and reckoned once.

    profile: of blasted metal that it fills; None where it fills none
    """
    litres = film.paint_for_area(
        ONE,
        Quantity(dry_film, "µm"),
        Quantity(volume_solids, "percent"),
        film.loss_of(method, outdoors=outdoors),
        dead_film=film.NO_DEAD_FILM if profile is None else film.dead_film_range(Quantity(profile, "µm")),
    )
    low, likely, high = (float(end.to("L").magnitude) for end in _ends(litres))
    return low, likely, high


class PaintUse(Protocol):
    """Litres of one paint that go on by one method."""

    @property
    def method(self) -> str: ...

    @property
    def litres(self) -> Range: ...

    @property
    def additives(self) -> list[tuple[Additive, Quantity]]: ...


@dataclass(frozen=True)
class AdditiveNeed:
    """So much of an additive, bought by the litre."""

    additive: Additive
    volume: Quantity

    @property
    def cost(self) -> Decimal | None:
        """None where nobody has said what a litre costs."""
        if self.additive.price is None:
            return None
        litres = Decimal(str(round(self.volume.to("L").magnitude, 6)))
        return cents(self.additive.price * litres)


Use = TypeVar("Use", bound=PaintUse)


@dataclass(frozen=True, eq=False)
class CoatingNeed(Generic[Use]):
    """All that a project takes of one coating. `wanted` is what the tins are to hold: "high" or "likely".

    sessions: by method, in how many the coats are put on; one where nobody says
    """

    coating: Coating
    coats: Sequence[Use]
    wanted: str
    sessions: Mapping[str, float] = field(default_factory=dict)

    @cached_property
    def on_pieces(self) -> Range:
        return _together(coat.litres for coat in self.coats)

    @cached_property
    def left_behind(self) -> Range:
        """What stays in tin or gun, once for each session of each method that the coating is put on by."""
        by_method: dict[str, list[Range]] = defaultdict(list)
        for coat in self.coats:
            by_method[coat.method].append(coat.litres)
        return _together(
            _left(method, _together(litres), self.sessions.get(method, 1.0)) for method, litres in by_method.items()
        )

    @cached_property
    def litres(self) -> Range:
        return self.on_pieces + self.left_behind

    @cached_property
    def thinner(self) -> Range:
        """For coats on pieces; of machines to come nobody asks for it."""
        return _together(coat.thinner for coat in self.coats if isinstance(coat, Coat))

    @cached_property
    def additives(self) -> list["AdditiveNeed"]:
        """What the layers of these coats have stirred in, for the likely litres, what stays in tin or gun with them."""
        volumes: dict[Additive, Quantity] = {}
        for additive, volume in (dose for coat in self.coats for dose in coat.additives):
            volumes[additive] = volumes[additive] + volume if additive in volumes else volume
        of_all = (self.litres.likely / self.on_pieces.likely).to("") if volumes else 1
        return [AdditiveNeed(additive, volume * of_all) for additive, volume in volumes.items()]

    @property
    def components(self) -> tuple[Quantity, Quantity] | None:
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
class LettersNeed:
    """The pieces whose letters are picked out with this paint; None: nobody has chosen one."""

    coating: Coating | None
    pieces: tuple[Piece, ...]

    @cached_property
    def litres(self) -> Range | None:
        """For one coat on those of which the letters' size is known; None where it is of none."""
        known_ones = [each for piece in self.pieces if (each := letters_paint(piece.part, self.coating))]
        return _together(known_ones) if known_ones else None

    @property
    def unknown(self) -> list[Part]:
        """Parts whose letters' size nobody has said."""
        return list({piece.part_id: piece.part for piece in self.pieces if letters_face(piece.part) is None}.values())


@dataclass(frozen=True, eq=False)
class PaintList:
    """The needs by coating, and what could not be reckoned, with the reason."""

    needs: tuple[CoatingNeed[Coat], ...]
    missing: tuple[tuple[Piece, str], ...]
    without_profile: tuple[Part, ...]
    letters: tuple["LettersNeed", ...]

    @property
    def cost(self) -> Decimal:
        tins = sum((need.purchase.cost for need in self.needs if need.purchase and need.priced), Decimal(0))
        return tins + sum(
            (one.cost for need in self.needs for one in need.additives if one.cost is not None), Decimal(0)
        )

    @property
    def unpriced(self) -> list[Coating | Additive]:
        tins: list[Coating | Additive] = [need.coating for need in self.needs if not (need.purchase and need.priced)]
        return tins + [one.additive for need in self.needs for one in need.additives if one.cost is None]


class PlannedSession(Protocol):
    """A mix of one paint that a plan has: for which coats."""

    @property
    def need(self) -> CoatingNeed[Coat]: ...


@dataclass(frozen=True, eq=False)
class PlannedCoats:
    """Where a plan puts on which layer of which piece, and with which others."""

    sessions: Sequence[PlannedSession] = ()

    @cached_property
    def _of(self) -> dict[tuple[UUID, UUID], tuple[PlannedSession, Coat]]:
        return {
            (piece.pk, coat.layer.pk): (session, coat)
            for session in self.sessions
            for coat in session.need.coats
            for piece in coat.pieces
        }

    def outdoors(self, piece: Piece, layer: Layer) -> bool:
        """Where it is planned; else where the piece stands."""
        there = self._of.get((piece.pk, layer.pk))
        return there[1].outdoors if there else (piece.state.place or piece.place).outdoors

    def sessions_of(self, coats: Iterable[Coat]) -> dict[str, float]:
        """By method: of a session that others share its share by the litre; what is not planned is one more."""
        of_sessions: dict[str, float] = defaultdict(float)
        others: set[str] = set()
        whole: dict[PlannedSession, float] = {}
        for coat in coats:
            each = float(coat.each.likely.m_as(LITRE))
            for piece in coat.pieces:
                there = self._of.get((piece.pk, coat.layer.pk))
                if there:
                    if there[0] not in whole:
                        whole[there[0]] = float(there[0].need.on_pieces.likely.m_as(LITRE))
                    of_sessions[coat.method] += each / whole[there[0]]
                else:
                    others.add(coat.method)
        return {method: of_sessions[method] + (method in others) for method in {*of_sessions, *others}}


def paint_list(
    pieces: Iterable[Piece], *, all_layers: bool, wanted: str, planned: Sequence[PlannedSession] = ()
) -> PaintList:
    """The paint for these pieces, with their states: every layer of their systems, or only those still to do.

    planned: the sessions of the kept plans, which say where these coats go on, and how often something stays in the gun
    """
    here = [piece for piece in pieces if not piece.set_aside]
    why_not = {part.pk: _missing(part) for part in {piece.part_id: piece.part for piece in here}.values()}
    missing = [(piece, why) for piece in here if (why := why_not[piece.part_id])]
    by_plan = PlannedCoats(planned)
    coats = _coats([piece for piece in here if not why_not[piece.part_id]], all_layers, by_plan)
    by_coating = defaultdict(list)
    for coat in coats:
        by_coating[coat.layer.coating_id].append(coat)
    needs = [CoatingNeed(own[0].coating, tuple(own), wanted, by_plan.sessions_of(own)) for own in by_coating.values()]
    no_profile = {coat.part.pk: coat.part for coat in coats if coat.first and coat.part.profile is None}
    return PaintList(
        tuple(sorted(needs, key=lambda need: need.coating.name)),
        tuple(missing),
        tuple(no_profile.values()),
        _letters(here, all_layers),
    )


def _missing(part: Part) -> str:
    if part.area is None:
        return "no painted area"
    if part.system is None:
        return "no coating system"
    return "" if part.system.coats else f"{part.system} has no coat yet"


def _coats(pieces: list[Piece], all_layers: bool, by_plan: PlannedCoats) -> list[Coat]:
    todo, coats = [], SystemCoats()
    for piece in pieces:
        coming = coats.of(piece.part) if all_layers or piece.state.stage == Stage.RAW else piece.state.coming
        todo += [(piece, layer, by_plan.outdoors(piece, layer)) for layer in coming if layer.is_coat]
    return coats_of(todo)


class SystemCoats:
    """The coats of parts' systems, each system looked through once for all that are painted by it."""

    def __init__(self) -> None:
        self._coats: dict[UUID | None, list[Layer]] = {None: []}
        self._first: dict[UUID | None, list[Layer]] = {None: []}

    def of(self, part: Part) -> list[Layer]:
        if part.system and part.system_id not in self._coats:
            self._coats[part.system_id] = part.system.coats
        return self._coats[part.system_id]

    def first(self, part: Part) -> list[Layer]:
        """Those that meet bare metal."""
        if part.system_id not in self._first:
            self._first[part.system_id] = first_coats(self.of(part))
        return self._first[part.system_id]


def coats_of(todo: Iterable[tuple[Piece, Layer, bool]]) -> list[Coat]:
    """Each piece with a layer to come, and whether it goes on outdoors: those that are alike are one coat."""
    alike, coats = defaultdict(list), SystemCoats()
    for piece, layer, outdoors in todo:
        first = layer in coats.first(piece.part) and not _came_clean(piece)
        alike[(piece.part_id, layer, outdoors, first)].append(piece)
    found = [
        Coat(rack[0].part, layer, outdoors, first, tuple(rack)) for (_, layer, outdoors, first), rack in alike.items()
    ]
    return sorted(found, key=lambda coat: (coat.part.name, coat.layer.position, coat.outdoors, coat.first))


def first_coats(coats: list[Layer]) -> list[Layer]:
    """The coats that meet bare metal: the first on each side."""
    found = []
    for side in (Layer.Side.FIRST, Layer.Side.SECOND):
        first = next((coat for coat in coats if coat.side in (Layer.Side.ALL, side)), None)
        found += [first] if first and first not in found else []
    return found


def _came_clean(piece: Piece) -> bool:
    """Not blasted, so there is no profile to fill."""
    return piece.state.stage != Stage.RAW and piece.state.came_clean


def _letters(pieces: list[Piece], all_layers: bool) -> tuple[LettersNeed, ...]:
    """Pieces whose raised letters are to be picked out, by their paint."""
    by_coating: dict[UUID | None, tuple[Coating | None, list[Piece]]] = {}
    for piece in pieces:
        if piece.state.gets_letters if all_layers else piece.state.letters_to_do:
            coating = piece.part.lettering_coating
            by_coating.setdefault(coating.pk if coating else None, (coating, []))[1].append(piece)
    return tuple(LettersNeed(coating, tuple(own)) for coating, own in by_coating.values())


def _ends(spread: Range) -> tuple[Quantity, Quantity, Quantity]:
    return spread.low, spread.likely, spread.high


def _of_litres(ends: Iterable[float]) -> Range:
    return Range(*(Quantity(end, LITRE) for end in ends))


def _together(volumes: Iterable[Range]) -> Range:
    """Their sum, in numbers: a list has hundreds of coats."""
    ends = [[float(end.m_as(LITRE)) for end in _ends(volume)] for volume in volumes]
    return _of_litres(sum(column) for column in zip(*ends, strict=True)) if ends else NOTHING


def _left(method: str, litres: Range, sessions: float) -> Range:
    """Of so many sessions that share these litres evenly; a session may be shared with other projects."""
    return Range(
        film.left_behind(method, litres.low / sessions).low * sessions,
        film.left_behind(method, litres.likely / sessions).likely * sessions,
        film.left_behind(method, litres.high / sessions).high * sessions,
    )
