"""A machine taken apart: what is off and what is still on, and the way back in reverse order."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from finishing.science.castings import PatternSize, pattern_size
from finishing.site.fields import number
from projects.proving.domain.assembly import CheckState, Seat, checks_on, seats_of
from projects.record.domain.states import read_states
from projects.record.models import CastingSize, Machine, Part, Piece, Removal


def still_on(machine: Machine, off: Iterable[Removal]) -> list[Piece]:
    """Pieces of the project that stand for nothing else and have not come off; those of this machine, or of none."""
    gone = {removal.step.piece_id for removal in off}
    rows = machine.project.pieces.filter(set_aside=False).select_related("part").order_by("part__name", "mark")
    return [piece for piece in rows if piece.pk not in gone and piece.machine_id in (None, machine.pk)]


def next_tag(off: Iterable[Removal]) -> str:
    """The number after the highest that is tied on."""
    return str(max((int(removal.tag) for removal in off if removal.tag.isdecimal()), default=0) + 1)


@dataclass(frozen=True)
class RefitLine:
    """One part on its way back: as it came off, where it goes, what may go in, and what is checked then."""

    removal: Removal
    seat: Seat
    piece: Piece | None  # that goes in: what came off, or what was made in its place
    checks: tuple[CheckState, ...]

    @property
    def back(self) -> bool:
        fitted = self.seat.standing
        return fitted is not None and fitted.fitted_at >= self.removal.step.happened_at

    @property
    def unfinished(self) -> str:
        """Why it should not go in yet; only said, never refused."""
        if self.piece is None or self.back:
            return ""
        state = self.piece.state
        return f"still to {state.to_repair}" if state.to_repair else "" if state.finished else "not finished yet"

    @property
    def fitted_before(self) -> str:
        """Fits and shims as they last were."""
        return next((fitting.shims for fitting in reversed(self.seat.history) if fitting.shims), "")


def refit_list(machine: Machine, off: Sequence[Removal]) -> list[RefitLine]:
    """The last that came off goes back first."""
    seats = seats_of(machine)
    by_place = {(seat.part.pk, seat.position): seat for seat in seats}
    checks = checks_on(machine, seats)
    parts = {removal.piece.part_id for removal in off}
    sound = read_states(machine.project.pieces.sound().filter(part__in=parts).order_by("made_at"))
    taken = {seat.piece.pk for seat in seats if seat.piece}
    lines = []
    for removal in reversed(off):
        seat = by_place[removal.piece.part_id, removal.position]
        piece = seat.piece or _goes_in(removal, sound, taken)
        if piece:
            taken.add(piece.pk)
        own = tuple(check for check in checks if check.check.part_id == seat.part.pk)
        lines.append(RefitLine(removal, seat, piece, own))
    return lines


def _goes_in(removal: Removal, sound: list[Piece], taken: set[UUID]) -> Piece | None:
    """What came off, else the newest of its part that sits nowhere."""
    own = next((piece for piece in sound if piece.pk == removal.step.piece_id), None)
    others = (piece for piece in reversed(sound) if piece.part_id == removal.piece.part_id and piece.pk not in taken)
    return own or next(others, None)


def pattern_sizes(part: Part, sizes: Sequence[CastingSize]) -> list[tuple[CastingSize, PatternSize]]:
    """Each size with what its pattern measures; the largest of them decides the allowance."""
    known = [(size, number(size, "size") or 0.0) for size in sizes]
    largest = max((millimetres for _, millimetres in known), default=0.0)
    return [
        (size, pattern_size(millimetres, size.machined_faces, largest, str(part.material)))
        for size, millimetres in known
    ]
