"""One machine as it is put together: which piece sits in each place, and how its checks came out."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from projects.record.domain.proved import current_revision, ready_made
from projects.record.models.designs import Part, Revision
from projects.record.models.pieces import Piece
from projects.record.models.projects import Machine
from projects.record.models.proving import Check, Fitting, Trial


@dataclass(frozen=True)
class Seat:
    """A place for a part in a machine, with what was put there, latest last."""

    part: Part
    position: int
    history: tuple[Fitting, ...]
    ready_made: bool = False  # it may be noted here, and need not

    @property
    def lacks(self) -> bool:
        """Without it the machine is not assembled."""
        return self.piece is None and not self.ready_made

    @property
    def standing(self) -> Fitting | None:
        """What sits there now; None where nothing was put, or it was taken out."""
        last = self.history[-1] if self.history else None
        return last if last and last.piece_id else None

    @property
    def since(self) -> datetime | None:
        return self.history[-1].fitted_at if self.history else None

    @property
    def piece(self) -> Piece | None:
        return self.standing.piece if self.standing else None

    @property
    def revision(self) -> Revision | None:
        return self.piece.revision if self.piece else None

    @property
    def name(self) -> str:
        return f"{self.part} {self.position}" if self.part.quantity > 1 else str(self.part)

    @property
    def anchor(self) -> str:
        return f"place-{self.part.pk}-{self.position}"

    @property
    def superseded(self) -> bool:
        revision = self.revision
        return revision is not None and current_revision(self.part) != revision


def seats_of(machine: Machine) -> list[Seat]:
    """Every place of every part of its design, in a fixed number of queries."""
    history: dict[tuple[UUID, int], list[Fitting]] = {}
    fittings = machine.fittings.select_related("piece__part", "piece__revision", "by")
    for fitting in fittings:
        history.setdefault((fitting.part_id, fitting.position), []).append(fitting)
    bought = ready_made(machine.project.design)
    return [
        Seat(part, position, tuple(history.get((part.pk, position), ())), part.pk in bought)
        for part in machine.project.design.parts.prefetch_related("revisions")
        for position in range(1, part.quantity + 1)
    ]


def sits_in(pieces: Iterable[Piece]) -> dict[UUID, Fitting]:
    """Where each of these pieces sits now, by its id."""
    there = Fitting.objects.filter(part__in={piece.part_id for piece in pieces}).select_related("machine")
    last = {(row.machine_id, row.part_id, row.position): row for row in there}
    return {row.piece_id: row for row in last.values() if row.piece_id}


@dataclass(frozen=True)
class CheckState:
    """A check as it stands on one machine.

    outdated: another piece was fitted since · answered_by: the revision that was opened after the one that was tried
    """

    check: Check
    trials: tuple[Trial, ...]
    outdated: bool
    can_be_done: bool
    answered_by: Revision | None = None

    @property
    def last(self) -> Trial | None:
        return self.trials[-1] if self.trials else None

    @property
    def failed(self) -> bool:
        return bool(self.last and not self.last.passed)

    @property
    def word(self) -> str:
        if self.last is None:
            return "not done"
        return "to be done again" if self.outdated else "passed" if self.last.passed else "failed"


def checks_on(machine: Machine, seats: Collection[Seat]) -> list[CheckState]:
    """Those still asked for: the whole machine's, then each part's."""
    done: dict[UUID, list[Trial]] = {}
    for trial in machine.trials.select_related("revision", "by"):
        done.setdefault(trial.check_done_id, []).append(trial)
    checks = Check.objects.filter(design=machine.project.design_id, retired=False).select_related("part")
    ordered = sorted(checks, key=lambda check: (check.part.name if check.part else "", check.what))
    return [_state(check, tuple(done.get(check.pk, ())), seats) for check in ordered]


def _state(check: Check, trials: tuple[Trial, ...], seats: Collection[Seat]) -> CheckState:
    own = [seat for seat in seats if check.part_id in (None, seat.part.pk)]
    changes = [(last.fitted_at, last.entered_at) for seat in own for last in seat.history[-1:]]
    last_done = (trials[-1].tried_at, trials[-1].entered_at) if trials else None
    outdated = last_done is not None and any(change > last_done for change in changes)
    tried = trials[-1].revision_id if trials and check.part_id else None
    latest = current_revision(own[0].part) if tried and own else None
    newer = latest if latest and latest.pk != tried else None
    return CheckState(check, trials, outdated, any(seat.piece for seat in own), newer)
