"""The kept plans as all pages read them: what is still to come for a piece, and which pieces a visit is to blast."""

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from uuid import UUID

from finishing.workshops.models import Workshop
from projects.record.models.pieces import Piece
from projects.record.models.plans import Plan, Slot
from projects.record.models.visits import Visit

from .latest_ends import latest_ends
from .logged_slots import logged_of_pieces


@dataclass(frozen=True, eq=False)
class PlannedBlasting:
    """A piece's blasting by a kept plan, with what follows for it up to its first coat, and that where there is one."""

    slot: Slot
    following: tuple[Slot, ...]

    @property
    def coat(self) -> Slot | None:
        return self.following[-1] if self.following and self.following[-1].kind == Slot.Kind.COAT else None

    @property
    def coat_before(self) -> datetime | None:
        """By when that coat must be on, standing where the plan has it stand."""
        return min((latest.at for latest in latest_ends(self.following) if latest.what == "rust"), default=None)

    @property
    def broken(self) -> str:
        """Why this does not hold any more; empty while it does."""
        return next((slot.broken for slot in (self.slot, *self.following) if slot.broken), "")


@dataclass(eq=False)
class KeptPlans:
    """`plans` were read in_full()."""

    plans: list[Plan]

    @classmethod
    def of(cls, workshop: Workshop) -> "KeptPlans":
        return cls(list(Plan.objects.of(workshop).kept().in_full()))

    def plan_for(self, piece: Piece) -> Plan | None:
        """The plan that was to have this piece in it, if it could."""
        for plan in self.plans:
            asked = plan.run.settings.get("pieces")
            of_project = piece.project_id in {project.pk for project in plan.run.projects.all()}
            if of_project and (asked is None or str(piece.pk) in asked):
                return plan
        return None

    @property
    def pieces(self) -> list[Piece]:
        """All that have a step in one of them."""
        slots = (slot for plan in self.plans for slot in plan.slots.all())
        return list({piece.pk: piece for slot in slots for piece in slot.pieces.all()}.values())

    def coming(self, piece: Piece) -> list[Slot]:
        """What it has for a piece behind the last step that was logged of it, in order."""
        return self._coming.get(piece.pk, [])

    @cached_property
    def _coming(self) -> dict[UUID, list[Slot]]:
        slots = sorted((slot for plan in self.plans for slot in plan.slots.all()), key=lambda slot: slot.begin)
        done = logged_of_pieces(slots)
        coming: dict[UUID, list[Slot]] = {}
        for slot in slots:
            for piece in slot.pieces.all():
                own = coming.setdefault(piece.pk, [])
                if piece.pk in done[slot.pk]:
                    own.clear()  # what came before a step that is done is done, or is left out
                else:
                    own.append(slot)
        return coming

    def blasting(self, piece: Piece) -> PlannedBlasting | None:
        """How a piece is blasted that waits for it."""
        coming = self.coming(piece)
        at = next((n for n, slot in enumerate(coming) if slot.kind == Slot.Kind.BLAST), None)
        if at is None:
            return None
        coat = next((n for n, slot in enumerate(coming) if n > at and slot.kind == Slot.Kind.COAT), len(coming) - 1)
        return PlannedBlasting(coming[at], tuple(coming[at + 1 : coat + 1]))

    def blasted_on(self, visit: Visit) -> list[Piece]:
        """The pieces that are to be blasted on a visit, and were not yet."""
        there = {
            piece.pk: piece
            for plan in self.plans
            for slot in plan.slots.all()
            if slot.kind == Slot.Kind.BLAST and slot.visit_id == visit.pk
            for piece in slot.pieces.all()
        }
        return [piece for piece in there.values() if self._on(piece, visit)]

    def _on(self, piece: Piece, visit: Visit) -> bool:
        blasting = self.blasting(piece)
        return blasting is not None and blasting.slot.visit_id == visit.pk
