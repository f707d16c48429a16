"""What a piece's log says: its stage, the layers on it and what comes next, by when things happened.

Entries are read in the order in which they happened; a voided one is passed over. What comes out is kept beside the
piece (`kept_states`), so that no list reads a log.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import takewhile

import numpy as np
from django.db import models

from finishing.coatings.models import Coating, Layer
from finishing.workshops.models import Place

from .steps import Step

Kind, BackTo = Step.Kind, Step.BackTo


class Stage(models.TextChoices):
    RAW = "raw", "to be blasted"
    BLASTED = "blasted", "blasted"
    PRIMED = "primed", "primed"
    COATED = "coated", "coated"
    LETTERED = "lettered", "lettered"
    STAYS_BARE = "stays bare", "stays bare"  # of a part that is never blasted or painted

    @classmethod
    def on_the_way(cls, stages: "Iterable[Stage]") -> "list[Stage]":
        """The stages that pieces go through, and the one of those that stay bare where there are some."""
        return [stage for stage in cls if stage != cls.STAYS_BARE or stage in stages]


class Next(models.TextChoices):
    """What is to be done next; the last two are not steps."""

    BLAST = "blast", "blast"
    PREPARE = "prepare", "prepare"
    COAT = "coat", "coat"
    LETTER = "letter", "letter"
    NO_SYSTEM = "no system", "choose a coating system"
    NOTHING = "nothing", "finished"


@dataclass(frozen=True)
class LayerDone:
    """What an entry put on or prepared, and when; letters have no layer, and of some coats nobody said which."""

    happened_at: datetime
    layer: Layer | None
    coating: Coating | None
    dry_film: float | None  # µm as it was measured


@dataclass(frozen=True)
class PieceState:
    """A piece as its log leaves it."""

    stage: Stage = Stage.RAW
    layers_done: tuple[Layer, ...] = ()  # since it was last bare, in order of position
    coats: tuple[LayerDone, ...] = ()  # that are on
    blasted_at: datetime | None = None
    came_clean: bool = False  # and so was not blasted
    bare_since: datetime | None = None  # None once every side has paint
    wet_work: bool = False  # was blasted wet or washed
    dry_at: datetime | None = None  # was logged dry after it
    flash_rust: str = ""  # its degree then, of FlashRust
    inhibitor_claim: float = np.inf  # hours that the inhibitor's supplier allows from then on
    looked_at: datetime | None = None  # somebody last looked at the bare iron: dry, no rust
    wet_at: datetime | None = None  # got wet while bare
    last_step: LayerDone | None = None  # what was last prepared, coated or lettered
    blast_again: str = ""  # why the log sent it back
    turned: bool = False  # over since its last coat
    touch_up: str = ""  # what is still to be touched up
    repairs: tuple[str, ...] = ()  # chosen and not done yet, in words
    preserved_since: datetime | None = None
    moves: tuple[tuple[datetime, Place], ...] = ()  # when, and where it came to
    measured: tuple[tuple[datetime, float], ...] = ()  # when, and the metal's temperature in °C
    letters_skipped: str = ""
    has_letters: bool = False  # its part carries raised letters to be picked out
    coming: tuple[Layer, ...] = ()  # layers still to do, the next one first
    next: Next = Next.BLAST

    @property
    def place(self) -> Place | None:
        """Where the log last moved it; None where it stands as it was entered."""
        return self.moves[-1][1] if self.moves else None

    @property
    def next_layer(self) -> Layer | None:
        return self.coming[0] if self.coming else None

    @property
    def next_coat(self) -> Layer | None:
        """The next layer of paint, behind whatever must be prepared for it."""
        return next((layer for layer in self.coming if layer.is_coat), None)

    @property
    def preparations(self) -> tuple[Layer, ...]:
        """What is to be prepared before the next coat."""
        return tuple(takewhile(lambda layer: not layer.is_coat, self.coming))

    @property
    def last_coat(self) -> LayerDone | None:
        return self.coats[-1] if self.coats else None

    @property
    def counts_from(self) -> datetime | None:
        """From when on the air that it stood in matters for what comes; None where none does any more, or yet."""
        return self.bare_since or (self.last_coat.happened_at if self.last_coat and not self.finished else None)

    @property
    def next_kind(self) -> Step.Kind:
        """The kind of entry that the next step will be."""
        if self.wet_until_dry:
            return Kind.DRIED
        return {Next.BLAST: Kind.BLASTED, Next.LETTER: Kind.LETTERED, Next.NOTHING: Kind.NOTED}.get(
            self.next, Kind.COATED
        )

    @property
    def is_bare(self) -> bool:
        return self.bare_since is not None

    @property
    def gets_letters(self) -> bool:
        """Raised letters are picked out on it, before or after now."""
        return self.has_letters and not self.letters_skipped

    @property
    def to_repair(self) -> str:
        """What is to be repaired before it is blasted; on a piece that has paint it is told and holds up nothing."""
        return " and ".join(dict.fromkeys(self.repairs)) if self.stage == Stage.RAW else ""

    @property
    def letters_to_do(self) -> bool:
        return self.gets_letters and self.stage != Stage.LETTERED

    @property
    def wet_until_dry(self) -> bool:
        """Blasted wet, and nobody has said yet that it is dry and how much it rusted meanwhile."""
        return self.is_bare and self.wet_work and self.dry_at is None

    @property
    def finished(self) -> bool:
        return self.next == Next.NOTHING


def read_log(steps: Iterable[Step], layers: Iterable[Layer], has_letters: bool, stays_bare: bool = False) -> PieceState:
    """The state that these entries leave a piece in, with a system of these layers.

    `has_letters` says whether the part carries raised letters to be picked out. A part that stays bare has nothing done
    to it: its pieces are finished once they are there.
    """
    system = sorted(layers, key=lambda layer: layer.position)
    state = PieceState(has_letters=has_letters)
    standing = standing_entries(steps)
    for entry in sorted(standing, key=lambda entry: (entry.happened_at, entry.entered_at, str(entry.id))):
        state = _after(state, entry, system)
        if entry.place and entry.place != state.place:  # what is worked on in a place stands there
            state = replace(state, moves=(*state.moves, (entry.happened_at, entry.place)))
        if entry.surface_temperature is not None:
            celsius = entry.surface_temperature.to("degC").magnitude
            state = replace(state, measured=(*state.measured, (entry.happened_at, celsius)))
    if stays_bare:
        return replace(
            _stripped(state), stage=Stage.STAYS_BARE, next=Next.NOTHING, wet_work=False, touch_up=state.touch_up
        )
    return _with_next(state, system)


def standing_entries(steps: Iterable[Step]) -> list[Step]:
    """Those that no later one voids, without the ones that void."""
    entries = list(steps)
    voided = {entry.voids_id for entry in entries if entry.voids_id}
    return [entry for entry in entries if entry.id not in voided and entry.kind != Kind.VOIDED]


def _after(state: PieceState, entry: Step, system: list[Layer]) -> PieceState:
    """The state once this entry has happened; a receipt, a move, a note and most other work change nothing here."""
    done = (*state.layers_done, entry.layer) if entry.layer else state.layers_done
    match entry.kind:
        case Kind.BLASTED | Kind.CAME_CLEAN:
            return replace(
                _stripped(state),
                stage=Stage.BLASTED,
                blasted_at=entry.happened_at,
                bare_since=entry.happened_at,
                came_clean=entry.kind == Kind.CAME_CLEAN,
                wet_work=entry.wet_work,
                letters_skipped="",
            )
        case Kind.DRIED if state.is_bare and state.wet_work:
            claim = entry.inhibitor_claim
            return replace(
                state,
                dry_at=entry.happened_at,
                bare_since=entry.happened_at,
                flash_rust=entry.flash_rust,
                inhibitor_claim=np.inf if claim is None else float(claim.to("hour").magnitude),
            )
        case Kind.LOOKED if state.is_bare:
            return replace(state, looked_at=entry.happened_at)
        case Kind.PREPARED:
            return replace(state, layers_done=done, last_step=_done(entry))
        case Kind.COATED:
            half_bare = entry.layer and entry.layer.side == Layer.Side.FIRST
            return replace(
                state,
                stage=_stage_of(done, system),
                layers_done=done,
                coats=(*state.coats, _done(entry)),
                last_step=_done(entry),
                turned=False,
                bare_since=state.bare_since if half_bare else None,
                wet_at=state.wet_at if half_bare else None,
            )
        case Kind.TURNED:
            return replace(state, turned=True)
        case Kind.LETTERED:
            return replace(state, stage=Stage.LETTERED, last_step=_done(entry))
        case Kind.LETTERS_SKIPPED:
            return replace(state, letters_skipped=entry.reason or entry.note or "skipped")
        case Kind.BLOOM:
            return _stripped(state, "rust bloom seen")
        case Kind.WRINKLED | Kind.DAMAGED:
            return _spoilt(state, entry, system)
        case Kind.TOUCHED_UP:
            return replace(state, touch_up="")
        case Kind.WETTED if state.is_bare:
            return replace(state, wet_at=entry.happened_at)
        case Kind.TAKEN_OFF | Kind.TO_REPAIR if entry.repair and entry.repair != Step.Repair.REMADE:
            return replace(state, repairs=(*state.repairs, entry.get_repair_display()))
        case Kind.WORKED if entry.work == Step.Work.REPAIR:
            return replace(state, repairs=())
        case Kind.PRESERVED:
            return replace(state, preserved_since=entry.happened_at)
        case Kind.CLEANED_OFF:
            return replace(state, preserved_since=None)
    return state


def _done(entry: Step) -> LayerDone:
    film = None if entry.dry_film is None else float(entry.dry_film.to("µm").magnitude)
    return LayerDone(entry.happened_at, entry.layer, entry.coating, film)


def _stripped(state: PieceState, why: str = "") -> PieceState:
    """Without a coat, and to be blasted."""
    return replace(
        state,
        stage=Stage.RAW,
        layers_done=(),
        coats=(),
        came_clean=False,
        bare_since=None,
        wet_at=None,
        dry_at=None,
        flash_rust="",
        inhibitor_claim=np.inf,
        looked_at=None,
        last_step=None,
        blast_again=why,
        touch_up="",
    )


def _stage_of(done: tuple[Layer, ...], system: list[Layer]) -> Stage:
    """Any paint passes "primed": a self-priming enamel has no primer of its own. "Coated" needs the last layer."""
    if not any(layer.is_coat for layer in done):
        return Stage.BLASTED
    coats = [layer.position for layer in system if layer.is_coat]
    return Stage.COATED if coats and max(layer.position for layer in done) >= coats[-1] else Stage.PRIMED


def _spoilt(state: PieceState, entry: Step, system: list[Layer]) -> PieceState:
    """A wrinkled coat or damage takes off what the entry says; with no coat left the piece must be blasted again."""
    word = entry.get_kind_display()
    if entry.back_to == BackTo.BLAST:
        return _stripped(state, word)
    if entry.back_to not in (BackTo.PRIMED, BackTo.LAST_COAT):
        return replace(state, touch_up=entry.note or word)
    coats = [layer for layer in state.layers_done if layer.is_coat]
    if not coats:
        return state
    lowest = coats[-1].position  # of the layers that come off
    if entry.back_to == BackTo.PRIMED:
        primers = [layer.position for layer in coats if layer.coating and layer.coating.is_primer]
        lowest = max(primers or [coats[0].position]) + 1
    kept = tuple(coat for coat in state.coats if coat.layer and coat.layer.position < lowest)
    if not kept:
        return _stripped(state, "no sound coat left")
    done = tuple(layer for layer in state.layers_done if layer.position < lowest)
    return replace(state, layers_done=done, coats=kept, last_step=kept[-1], stage=_stage_of(done, system))


def _with_next(state: PieceState, system: list[Layer]) -> PieceState:
    if state.stage == Stage.RAW:
        return replace(state, next=Next.BLAST)
    if not system:
        return replace(state, next=Next.NO_SYSTEM)
    reached = max((layer.position for layer in state.layers_done), default=0)
    coming = tuple(layer for layer in system if layer.position > reached)
    if coming and state.stage != Stage.LETTERED:
        return replace(state, coming=coming, next=Next.COAT if coming[0].is_coat else Next.PREPARE)
    return replace(state, next=Next.LETTER if state.letters_to_do else Next.NOTHING)
