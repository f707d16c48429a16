"""A project as it was thought and as it went: its minutes, paint, blasting, orders and expenses, and each part's."""

from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from projects.proving.domain.development import Development
from projects.record.models.cost_terms import terms_of
from projects.record.models.designs import Part
from projects.record.models.pieces import Piece
from projects.record.models.projects import Project
from projects.record.models.steps import Step
from projects.work.domain.paint import paint_list
from projects.work.domain.work_log import standing_steps, work_of

from .cost_sheet import CostSheet
from .taken import HandsTaken, Taken, minutes_by_work, timed, whole_minutes
from .taken_money import BlastTaken, OrdersTaken, PaintBought, PaintTaken

COMPARED = (
    "masking",
    "blasting",
    "wiping",
    "preparing",
    "coats",
    "lettering",
)  # works that are both reckoned and logged


@dataclass(frozen=True)
class PartTaken:
    part: Part
    pieces: int
    minutes: Taken
    hands: list[Taken]
    paint: Taken
    paint_money: Taken
    blasting: Taken

    @property
    def rows(self) -> list[Taken]:
        return [
            row for row in (self.minutes, *self.hands, self.paint, self.paint_money, self.blasting) if not row.empty
        ]


@dataclass(frozen=True, eq=False)
class ProjectTaken:
    project: Project
    day: date

    @property
    def shop(self) -> Any:
        return self.project.workshop

    @cached_property
    def machines(self) -> int:
        """One at least: what has no number yet is reckoned as one."""
        return self.project.machines.count() or 1

    @cached_property
    def sheet(self) -> CostSheet:
        return CostSheet(self.project.design, terms_of(self.project.design), self.day)

    @cached_property
    def pieces(self) -> list[Piece]:
        rows = self.project.pieces.with_log().prefetch_related("part__system__layers__coating__tin_sizes")
        return [piece for piece in rows.order_by("part__name", "mark") if not piece.set_aside]

    @cached_property
    def steps(self) -> list[Step]:
        """Of every piece, set aside or not: its time was spent."""
        return list(standing_steps(self.shop).filter(piece__project=self.project))

    @cached_property
    def minutes(self) -> list[Taken]:
        return [*minutes_by_work(self.pieces, self.steps, self.shop), *self.hands.by_process]

    @cached_property
    def hands(self) -> HandsTaken:
        return HandsTaken(self.sheet, self.machines, self.steps)

    @cached_property
    def _paint(self) -> PaintTaken:
        return PaintTaken(paint_list(self.pieces, all_layers=True, wanted="likely"), self.steps)

    @cached_property
    def paint(self) -> list[Taken]:
        return self._paint.by_coating

    @cached_property
    def _bought(self) -> PaintBought:
        return PaintBought(self.project, self._paint.paints)

    @property
    def paint_bought(self) -> list[Taken]:
        return self._bought.rows

    @cached_property
    def blast(self) -> BlastTaken:
        return BlastTaken(self.project)

    @cached_property
    def orders(self) -> OrdersTaken:
        return OrdersTaken(self.project, self.sheet, self.machines)

    @cached_property
    def development(self) -> Development:
        return Development(self.project.design)

    @cached_property
    def parts(self) -> list[PartTaken]:
        parts = {piece.part_id: piece.part for piece in self.pieces}
        told = [self._part(part) for part in parts.values()]
        return [part for part in told if part.rows]

    def _part(self, part: Part) -> PartTaken:
        pieces = [piece for piece in self.pieces if piece.part_id == part.pk]
        steps = [step for step in self.steps if step.piece.part_id == part.pk and work_of(step) in COMPARED]
        whole = sum(minutes for work, minutes in whole_minutes(pieces, self.shop).items() if work in COMPARED)
        minutes = timed(
            "minutes of finishing", steps, self.shop, whole, f"{', '.join(COMPARED)}: by area and the rates."
        )
        return PartTaken(
            part,
            len(pieces),
            minutes,
            self.hands.of_part(part),
            self._paint.of_part(part),
            self._bought.of_part(part, self._paint),
            self.blast.of_part(part),
        )
