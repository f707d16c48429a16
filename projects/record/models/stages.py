"""What a piece's log says: its stage, the layers on it and what comes next, by when things happened.

Nothing here is stored. Entries are read in the order in which they happened; a voided one is passed over.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import takewhile
from typing import Any

from django.db import models

from .steps import Step

Kind, BackTo = Step.Kind, Step.BackTo


class Stage(models.TextChoices):
    RAW = "raw", "to be blasted"
    BLASTED = "blasted", "blasted"
    PRIMED = "primed", "primed"
    COATED = "coated", "coated"
    LETTERED = "lettered", "lettered"


class Next(models.TextChoices):
    """What is to be done next; the last two are not steps."""

    BLAST = "blast", "blast"
    PREPARE = "prepare", "prepare"
    COAT = "coat", "coat"
    LETTER = "letter", "letter"
    NO_SYSTEM = "no system", "choose a coating system"
    NOTHING = "nothing", "finished"


@dataclass(frozen=True)
class PieceState:
    """A piece as its log leaves it."""

    stage: Stage = Stage.RAW
    layers_done: tuple[Any, ...] = ()  # Layer rows since it was last bare, in order of position
    coats: tuple[Step, ...] = ()  # the entries that put the coats on
    blasted_at: datetime | None = None
    bare_since: datetime | None = None  # None once every side has paint
    wet_work: bool = False  # was blasted wet or washed
    wet_at: datetime | None = None  # got wet while bare
    last_step: Step | None = None  # the last entry that prepared, coated or lettered
    blast_again: str = ""  # why the log sent it back
    turned: bool = False  # over since its last coat
    touch_up: str = ""  # what is still to be touched up
    preserved_since: datetime | None = None
    moves: tuple[tuple[datetime, Any], ...] = ()  # when, and the Place it came to
    measured: tuple[tuple[datetime, float], ...] = ()  # when, and the metal's temperature in °C
    letters_skipped: str = ""
    coming: tuple[Any, ...] = ()  # layers still to do, the next one first
    next: Next = Next.BLAST

    @property
    def place(self) -> Any:
        """Where the log last moved it; None where it stands as it was entered."""
        return self.moves[-1][1] if self.moves else None

    @property
    def next_layer(self) -> Any:
        return self.coming[0] if self.coming else None

    @property
    def next_coat(self) -> Any:
        """The next layer of paint, behind whatever must be prepared for it."""
        return next((layer for layer in self.coming if layer.is_coat), None)

    @property
    def preparations(self) -> tuple[Any, ...]:
        """What is to be prepared before the next coat."""
        return tuple(takewhile(lambda layer: not layer.is_coat, self.coming))

    @property
    def last_coat(self) -> Step | None:
        return self.coats[-1] if self.coats else None

    @property
    def next_kind(self) -> Kind:
        """The kind of entry that the next step will be."""
        return {Next.BLAST: Kind.BLASTED, Next.LETTER: Kind.LETTERED, Next.NOTHING: Kind.NOTED}.get(
            self.next, Kind.COATED
        )

    @property
    def is_bare(self) -> bool:
        return self.bare_since is not None

    @property
    def finished(self) -> bool:
        return self.next == Next.NOTHING


@dataclass
class Reading:
    """The log as read so far, on its way to a PieceState."""

    layers: list[Any]
    has_letters: bool
    state: PieceState = field(default_factory=PieceState)

    def set(self, **changes: Any) -> None:
        self.state = replace(self.state, **changes)


def read_log(steps: Iterable[Step], layers: Iterable[Any], has_letters: bool) -> PieceState:
    """The state that these entries leave a piece in, with a system of these layers.

    `has_letters` says whether the part carries raised letters to be picked out.
    """
    entries = list(steps)
    voided = {entry.voids_id for entry in entries if entry.voids_id}
    told = [entry for entry in entries if entry.id not in voided and entry.kind != Kind.VOIDED]
    reading = Reading(sorted(layers, key=lambda layer: layer.position), has_letters)
    for entry in sorted(told, key=lambda entry: (entry.happened_at, entry.entered_at, str(entry.id))):
        READERS.get(entry.kind, _pass_over)(reading, entry)
        _measured(reading, entry)
    return _look_ahead(reading)


def _pass_over(reading: Reading, entry: Step) -> None:
    """A receipt or a note changes no stage."""


def _turned(reading: Reading, entry: Step) -> None:
    reading.set(turned=True)


def _measured(reading: Reading, entry: Step) -> None:
    if entry.surface_temperature is not None:
        reading.set(
            measured=(*reading.state.measured, (entry.happened_at, entry.surface_temperature.to("degC").magnitude))
        )


def _bare(reading: Reading, entry: Step) -> None:
    reading.set(
        stage=Stage.BLASTED,
        layers_done=(),
        coats=(),
        blasted_at=entry.happened_at,
        bare_since=entry.happened_at,
        wet_work=entry.wet_work,
        wet_at=None,
        last_step=None,
        blast_again="",
        touch_up="",
        letters_skipped="",
    )


def _prepared(reading: Reading, entry: Step) -> None:
    done = (*reading.state.layers_done, entry.layer) if entry.layer else reading.state.layers_done
    reading.set(layers_done=done, last_step=entry)


def _coated(reading: Reading, entry: Step) -> None:
    done = (*reading.state.layers_done, entry.layer) if entry.layer else reading.state.layers_done
    covered = not entry.layer or entry.layer.side != "first"
    reading.set(
        layers_done=done,
        coats=(*reading.state.coats, entry),
        last_step=entry,
        turned=False,
        stage=_stage_of(reading.layers, done),
        bare_since=None if covered else reading.state.bare_since,
        wet_at=None if covered else reading.state.wet_at,
    )


def _stage_of(layers: list[Any], done: tuple[Any, ...]) -> Stage:
    """Any paint passes "primed": a self-priming enamel has no primer of its own. "Coated" needs the last layer."""
    coats = [layer for layer in layers if layer.is_coat]
    if not any(layer.is_coat for layer in done):
        return Stage.BLASTED
    reached = max(layer.position for layer in done)
    return Stage.COATED if coats and reached >= coats[-1].position else Stage.PRIMED


def _lettered(reading: Reading, entry: Step) -> None:
    reading.set(stage=Stage.LETTERED, last_step=entry)


def _letters_skipped(reading: Reading, entry: Step) -> None:
    reading.set(letters_skipped=entry.reason or entry.note or "skipped")


def _bloom(reading: Reading, entry: Step) -> None:
    _blast_again(reading, entry, "rust bloom seen")


def _blast_again(reading: Reading, entry: Step, why: str) -> None:
    reading.set(
        stage=Stage.RAW,
        layers_done=(),
        coats=(),
        bare_since=None,
        wet_at=None,
        last_step=None,
        blast_again=why,
        touch_up="",
    )


def _spoilt(reading: Reading, entry: Step) -> None:
    """A wrinkled coat or damage goes back as far as the entry says."""
    word = entry.get_kind_display()
    if entry.back_to == BackTo.BLAST:
        _blast_again(reading, entry, word)
    elif entry.back_to == BackTo.PRIMED:
        _take_off(reading, _after_primer)
    elif entry.back_to == BackTo.LAST_COAT:
        _take_off(reading, _last_coat_on)
    else:
        reading.set(touch_up=entry.note or word)


def _after_primer(coats: list[Any]) -> int:
    primers = [layer.position for layer in coats if layer.coating and layer.coating.is_primer] or [coats[0].position]
    return max(primers) + 1


def _last_coat_on(coats: list[Any]) -> int:
    return coats[-1].position


def _take_off(reading: Reading, lowest: Any) -> None:
    """Undo the layers from `lowest` up; with no coat left the piece must be blasted again."""
    coats = [layer for layer in reading.state.layers_done if layer.is_coat]
    if not coats:
        return
    position = lowest(coats)
    done = tuple(layer for layer in reading.state.layers_done if layer.position < position)
    kept = tuple(step for step in reading.state.coats if step.layer and step.layer.position < position)
    if not kept:
        _blast_again(reading, reading.state.coats[-1], "no sound coat left")
        return
    reading.set(layers_done=done, coats=kept, last_step=kept[-1], stage=_stage_of(reading.layers, done))


def _touched_up(reading: Reading, entry: Step) -> None:
    reading.set(touch_up="")


def _wetted(reading: Reading, entry: Step) -> None:
    if reading.state.bare_since:
        reading.set(wet_at=entry.happened_at)


def _preserved(reading: Reading, entry: Step) -> None:
    reading.set(preserved_since=entry.happened_at)


def _cleaned_off(reading: Reading, entry: Step) -> None:
    reading.set(preserved_since=None)


def _moved(reading: Reading, entry: Step) -> None:
    if entry.place:
        reading.set(moves=(*reading.state.moves, (entry.happened_at, entry.place)))


READERS = {
    Kind.BLASTED: _bare,
    Kind.CAME_CLEAN: _bare,
    Kind.PREPARED: _prepared,
    Kind.COATED: _coated,
    Kind.TURNED: _turned,
    Kind.LETTERED: _lettered,
    Kind.LETTERS_SKIPPED: _letters_skipped,
    Kind.BLOOM: _bloom,
    Kind.WRINKLED: _spoilt,
    Kind.DAMAGED: _spoilt,
    Kind.TOUCHED_UP: _touched_up,
    Kind.WETTED: _wetted,
    Kind.PRESERVED: _preserved,
    Kind.CLEANED_OFF: _cleaned_off,
    Kind.MOVED: _moved,
}


def _look_ahead(reading: Reading) -> PieceState:
    state = reading.state
    if state.stage == Stage.RAW:
        return replace(state, next=Next.BLAST)
    if not reading.layers:
        return replace(state, next=Next.NO_SYSTEM)
    reached = max((layer.position for layer in state.layers_done), default=0)
    coming = tuple(layer for layer in reading.layers if layer.position > reached)
    if coming and state.stage != Stage.LETTERED:
        return replace(state, coming=coming, next=Next.COAT if coming[0].is_coat else Next.PREPARE)
    letters_due = reading.has_letters and not state.letters_skipped and state.stage != Stage.LETTERED
    return replace(state, next=Next.LETTER if letters_due else Next.NOTHING)
