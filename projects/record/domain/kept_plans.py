"""The kept plans as all pages read them: what is still to come for a piece, and which pieces a visit is to blast."""

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from uuid import UUID

from django.db.models import prefetch_related_objects

from finishing.workshops.models import Workshop
from projects.record.models.pieces import Piece, PieceQuerySet
from projects.record.models.plans import Plan, Slot
from projects.record.models.visits import Visit

from .latest_ends import latest_ends
from .logged_slots import logged_of_pieces, logged_wholly


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


class KeptPlans:
    def __init__(self, plans: list[Plan], slots: list[Slot] | None = None):
        """slots: those of `plans` that are asked about; without them the plans were read in_full()."""
        self.plans = plans
        read = [slot for plan in plans for slot in plan.slots.all()] if slots is None else slots
        self.slots = sorted(read, key=lambda slot: slot.begin)

    @classmethod
    def of(cls, workshop: Workshop) -> "KeptPlans":
        return cls(list(Plan.objects.of(workshop).kept().in_full()))

    @classmethod
    def in_short(cls, workshop: Workshop, pieces: PieceQuerySet | None = None) -> "KeptPlans":
        """Enough to say what comes when and what is logged; of `pieces`, where they are told, no more than theirs."""
        plans = {plan.pk: plan for plan in Plan.objects.of(workshop).kept()}
        rows = Slot.objects.filter(plan__in=plans)
        if pieces is not None:
            held = Slot.pieces.through.objects.filter(piece__in=pieces.order_by().values("pk"))
            rows = rows.filter(pk__in=held.values("slot"))
        slots = rows.in_short() if plans else []
        for slot in slots:
            slot.plan = plans[slot.plan_id]
        return cls(list(plans.values()), slots)

    def plan_for(self, piece: Piece) -> Plan | None:
        """The plan that was to have this piece in it, if it could."""
        prefetch_related_objects(self.plans, "run__projects")  # once; where they are read already, nothing is asked
        for plan in self.plans:
            asked = plan.run.settings.get("pieces")
            of_project = piece.project_id in {project.pk for project in plan.run.projects.all()}
            if of_project and (asked is None or str(piece.pk) in asked):
                return plan
        return None

    def coming(self, piece: Piece) -> list[Slot]:
        """What it has for a piece behind the last step that was logged of it, in order."""
        return self.all_coming.get(piece.pk, [])

    @cached_property
    def all_coming(self) -> dict[UUID, list[Slot]]:
        """The same by the ids of all pieces that have a step in one of them."""
        coming: dict[UUID, list[Slot]] = {}
        for slot in self.slots:
            for piece in slot.piece_ids:
                own = coming.setdefault(piece, [])
                if piece in self._logged_of_pieces[slot.pk]:
                    own.clear()  # what came before a step that is done is done, or is left out
                else:
                    own.append(slot)
        return coming

    @cached_property
    def logged(self) -> set[UUID]:
        """The ids of those steps that are logged for all their pieces."""
        of_plans = ([slot for slot in self.slots if slot.plan_id == plan.pk] for plan in self.plans)
        return {pk for slots in of_plans for pk in logged_wholly(slots, self._logged_of_pieces)}

    @cached_property
    def _logged_of_pieces(self) -> dict[UUID, set[UUID]]:
        return logged_of_pieces(self.slots)

    def blasting(self, piece: Piece) -> PlannedBlasting | None:
        """How a piece is blasted that waits for it."""
        return self._blasting(piece.pk)

    def _blasting(self, piece: UUID) -> PlannedBlasting | None:
        coming = self.all_coming.get(piece, [])
        at = next((n for n, slot in enumerate(coming) if slot.kind == Slot.Kind.BLAST), None)
        if at is None:
            return None
        coat = next((n for n, slot in enumerate(coming) if n > at and slot.kind == Slot.Kind.COAT), len(coming) - 1)
        return PlannedBlasting(coming[at], tuple(coming[at + 1 : coat + 1]))

    def blastings_on(self, visit: Visit) -> dict[UUID, PlannedBlasting]:
        """By the ids of those pieces that are to be blasted on a visit, and were not yet."""
        slots = [slot for slot in self.slots if slot.kind == Slot.Kind.BLAST and slot.visit_id == visit.pk]
        there = {piece: self._blasting(piece) for slot in slots for piece in slot.piece_ids}
        return {pk: own for pk, own in there.items() if own is not None and own.slot.visit_id == visit.pk}
