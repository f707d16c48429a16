"""A job card: what somebody with a piece in the hands must know of it, without a screen."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from finishing.coatings.models import Layer
from finishing.science.cautions import HEAVY_FROM, Caution, cautions_for
from finishing.workshops.models import Workshop
from projects.record.domain.kept_plans import KeptPlans
from projects.record.models import Photo, Piece, PieceQuerySet, Slot
from projects.record.models.stages import Next


@dataclass(frozen=True)
class JobCard:
    """planned: what the kept plan has for it next."""

    piece: Piece
    photo: Photo | None
    planned: Slot | None

    @property
    def lift(self) -> str:
        """How to lift it.      Source: [LIFTING] for the limit; the rest common practice."""
        if self.piece.part.mass is None:
            return "Not weighed: lift it as if it were heavy."
        if self.heavy:
            return "Not by hand alone: hoist, rated sling, known eyes."
        return "By hand; two people where it is awkward to hold."

    @property
    def heavy(self) -> bool:
        """What nobody weighed is lifted as if it were heavy."""
        mass = self.piece.part.mass
        return mass is None or mass.to("kg").magnitude > HEAVY_FROM

    @property
    def layers(self) -> list[tuple[Layer, str]]:
        """Of its system: "done", "passed" where only a later one was logged, or "" for what is to come."""
        system, done = self.piece.part.system, self.piece.state.layers_done
        reached = max((layer.position for layer in done), default=0)
        layers = list(system.layers.all()) if system else []
        return [(layer, "done" if layer in done else "passed" if layer.position < reached else "") for layer in layers]

    @property
    def next_step(self) -> str:
        state = self.piece.state
        if state.next == Next.LETTER:
            return f"letters “{self.piece.part.lettering}”"
        if state.next in (Next.COAT, Next.PREPARE) and state.next_layer:
            return state.next_layer.label
        if state.next == Next.BLAST and state.blast_again:
            return f"blast again: {state.blast_again}"
        return str(state.next.label)

    @cached_property
    def cautions(self) -> list[Caution]:
        """Of its weight, its old paint, and the work that is still to come."""
        state = self.piece.state
        asked = {trigger for layer in state.coming if layer.coating for trigger in layer.coating.triggers}
        asked |= {"heavy"} if self.heavy else set()
        asked |= {"old paint"} if self.piece.old_paint else set()
        asked |= {"blasting"} if state.next == Next.BLAST else set()
        return cautions_for(asked)


def job_cards(workshop: Workshop, pieces: PieceQuerySet) -> list[JobCard]:
    """In a fixed number of queries."""
    rows = list(pieces.with_log())
    photos = _latest_photos(workshop, rows)
    kept = KeptPlans.in_short(workshop, pieces)
    return [JobCard(piece, photos.get(piece.pk), next(iter(kept.coming(piece)), None)) for piece in rows]


def _latest_photos(workshop: Workshop, pieces: Iterable[Piece]) -> dict[object, Photo]:
    latest = Photo.objects.of(workshop).latest_of(pieces)
    rows = Photo.objects.of(workshop).in_bulk(set(latest.values()))
    return {piece: rows[photo] for piece, photo in latest.items() if photo in rows}
