"""What is there already of a design's parts, or ordered and not received: rows as values for costing.in_hand.

For a batch, what belongs to it counts, and what no other batch lays claim to: machines of another project keep what
sits in them, and of its other pieces as many as they have places for.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from django.db.models import Count
from django.utils import timezone

from projects.money.in_hand import Unit, counted_in, spare
from projects.proving.domain.assembly import sits_in
from projects.record.domain.proved import in_order
from projects.record.models.designs import Design, Part, Revision
from projects.record.models.orders import OrderLine
from projects.record.models.pieces import Piece
from projects.record.models.projects import Project
from projects.record.models.proving import Fitting
from projects.record.models.routes import Operation
from projects.record.models.steps import Step
from projects.work.domain.work_log import standing_steps

Kind, Process = Step.Kind, Operation.Process
# An entry in a piece's log says that it is through all of its route before this
LOGGED = {Kind.BLASTED: Process.BLASTING, Kind.COATED: Process.PAINTING, Kind.LETTERED: Process.LETTERING}


@dataclass(frozen=True)
class LeftOut:
    """What is there or on order and does not count, and why. more: only counted, without a mark."""

    why: str
    pieces: tuple[Piece, ...] = ()
    more: int = 0
    lines: tuple[OrderLine, ...] = ()

    @property
    def anything(self) -> bool:
        return bool(self.pieces or self.more or self.lines)


@dataclass(frozen=True)
class PartInHand:
    """Of one part, or without one of the machine as a whole: what counts, along its route.

    units: with their pieces in `marked` · lines: those that count, by operation
    """

    route: tuple[Operation, ...]
    units: tuple[Unit, ...] = ()
    marked: dict[str, Piece] = field(default_factory=dict)
    lines: dict[Any, tuple[OrderLine, ...]] = field(default_factory=dict)
    left_out: tuple[LeftOut, ...] = ()

    @property
    def there(self) -> list[int]:
        """How many are through each operation."""
        return [sum(unit.through > at for unit in self.units) for at in range(len(self.route))]

    @property
    def on_order(self) -> list[int]:
        return [sum(line.outstanding for line in self.lines_of(row)) for row in self.route]

    def lines_of(self, row: Operation) -> tuple[OrderLine, ...]:
        return self.lines.get(row.pk, ())

    def pieces_through(self, row: Operation) -> list[Piece]:
        at = self.route.index(row)
        return [self.marked[unit.key] for unit in self.units if unit.key and unit.through > at]

    def expected(self, row: Operation, day: date) -> int:
        """Days until all that is on order of an operation should be there."""
        days = [line.order.expected_on for line in self.lines_of(row) if line.outstanding]
        return max(0, max(((one - day).days for one in days), default=0))


@dataclass(frozen=True, eq=False)
class InHand:
    """Of one design, for a batch, or for machines of none yet."""

    design: Design
    batch: Project | None = None

    # -- rows, in a fixed number of queries

    @cached_property
    def newest(self) -> dict[Any, Revision]:
        """Of each part that has one."""
        rows = _by(Revision.objects.filter(part__design=self.design), "part_id")
        return {part: in_order(revisions)[-1] for part, revisions in rows.items()}

    @cached_property
    def pieces(self) -> dict[Any, list[Piece]]:
        """By part; what only a voided receipt made was never there."""
        rows = Piece.objects.filter(part__design=self.design).order_by("mark")
        gone = rows.filter(set_aside=True, rejected_for="", receipt__voided_by__isnull=False)
        rows = rows.exclude(pk__in=gone.order_by().values("pk"))
        return _by(rows.select_related("part", "revision", "receipt", "rejected_in__line"), "part_id")

    @cached_property
    def lines(self) -> dict[Any, list[OrderLine]]:
        """By operation, of orders that were not cancelled."""
        rows = OrderLine.objects.filter(operation__design=self.design, order__cancelled_on=None)
        rows = rows.select_related("order__supplier", "operation", "revision").prefetch_related("receipts")
        return _by(rows.order_by("order__ordered_on", "pk"), "operation_id")

    @cached_property
    def machines(self) -> dict[Any, int]:
        """How many each project has."""
        return dict(self.design.projects.annotate(count=Count("machines")).values_list("pk", "count"))

    @cached_property
    def fitted(self) -> dict[Any, Fitting]:
        """By piece, where it sits."""
        return sits_in([piece for pieces in self.pieces.values() for piece in pieces])

    @cached_property
    def logged(self) -> dict[Any, set[str]]:
        """By piece, what was done of its finishing and still stands."""
        steps = standing_steps(self.design.workshop).filter(piece__part__design=self.design, kind__in=LOGGED)
        found = defaultdict(set)
        for piece, kind in steps.values_list("piece_id", "kind"):
            found[piece].add(kind)
        return found

    # -- of one part

    def of(self, part: Part | None, route: Iterable[Operation]) -> PartInHand:
        rows = tuple(route)
        return _Reading(self, part, rows).read() if part else self._of_machine(rows)

    def _of_machine(self, route: tuple[Operation, ...]) -> PartInHand:
        """What is done to a whole machine is done to one of the batch: what earlier ones had does not count."""
        lines = {row.pk: tuple(line for line in self.lines.get(row.pk, ()) if self.is_ours(line)) for row in route}
        done = [sum(line.good for line in lines[row.pk] if line.order.project_id) for row in route]
        return PartInHand(route, tuple(counted_in((), done)), {}, lines)

    def is_ours(self, line: OrderLine) -> bool:
        """Ordered for the batch, or for none."""
        return line.order.project_id in (None, self.batch and self.batch.pk)

    def is_new(self, row: Piece | OrderLine, part: Part) -> bool:
        """Of the newest revision, or of none that was named, as a quote for no revision counts for each."""
        newest = self.newest.get(part.pk)
        return newest is None or row.revision_id in (None, newest.pk)


@dataclass(frozen=True, eq=False)
class _Reading:
    """One part's pieces and orders, project by project."""

    source: InHand
    part: Part
    route: tuple[Operation, ...]

    def read(self) -> PartInHand:
        free = {whose: self._free(whose) for whose in self._projects}
        lines = {row.pk: tuple(filter(self._counts, self.source.lines.get(row.pk, ()))) for row in self.route}
        marked = {str(piece.pk): piece for piece in self._sound}
        units = tuple(unit for loose, _ in free.values() for unit in loose)
        held = [unit for _, kept in free.values() for unit in kept]
        return PartInHand(self.route, units, marked, lines, tuple(self._left_out(held, marked)))

    # -- pieces

    @cached_property
    def _all(self) -> list[Piece]:
        return self.source.pieces.get(self.part.pk, [])

    @cached_property
    def _new(self) -> list[Piece]:
        return [piece for piece in self._all if self.source.is_new(piece, self.part)]

    @cached_property
    def _old(self) -> list[Piece]:
        return [piece for piece in self._all if piece not in self._new and _is_sound(piece)]

    @cached_property
    def _sound(self) -> list[Piece]:
        return [piece for piece in self._new if _is_sound(piece)]

    def _whose(self, piece: Piece) -> Any:
        """The project of the machine that it sits in, else its own."""
        fitting = self.source.fitted.get(piece.pk)
        return fitting.machine.project_id if fitting else piece.project_id

    def _through(self, piece: Piece) -> int:
        """How many operations it is through, by where it sits, its log, and where it was rejected."""
        if piece.pk in self.source.fitted:
            return len(self.route)
        logged = [self._at(process) for kind, process in LOGGED.items() if kind in self._log(piece)]
        return max(self._made, self._found_bad(piece), *logged, 0)

    def _log(self, piece: Piece) -> set[str]:
        return self.source.logged.get(piece.pk, set())

    def _at(self, process: str) -> int:
        """Operations before the first of this process; none where the route has none."""
        return next((at for at, row in enumerate(self.route) if row.process == process), 0)

    @cached_property
    def _made(self) -> int:
        """Operations after which there is something to put a mark on."""
        return max((at + 1 for at, row in enumerate(self.route) if row.process in Operation.MAKING), default=0)

    @cached_property
    def _place(self) -> dict[Any, int]:
        return {row.pk: at for at, row in enumerate(self.route)}

    def _found_bad(self, piece: Piece) -> int:
        """Through all before the operation that spoilt it; found later, through that one too."""
        if piece.rejected_in:
            return self._place.get(piece.rejected_in.line.operation_id, 0)
        return self._place.get(piece.counts_against_id, -1) + 1

    # -- by project

    @cached_property
    def _projects(self) -> set[Any]:
        ordered = {line.order.project_id for row in self.route for line in self._lines_of(row)}
        return {self._whose(piece) for piece in self._sound} | ordered

    def _lines_of(self, row: Operation) -> list[OrderLine]:
        """What is ordered of the part itself."""
        return self.source.lines.get(row.pk, []) if row.process != Process.PATTERN else []

    def _counts(self, line: OrderLine) -> bool:
        """A pattern is the design's, whichever batch bore it."""
        whose = line.operation.process == Process.PATTERN or self.source.is_ours(line)
        return whose and self.source.is_new(line, self.part)

    def _free(self, whose: Any) -> tuple[list[Unit], list[Unit]]:
        """What the project leaves over, and what its machines keep; of the batch's own all counts."""
        units = [
            Unit(str(piece.pk), self._through(piece), piece.machine_id is not None or piece.pk in self.source.fitted)
            for piece in self._sound
            if self._whose(piece) == whose
        ]
        units = counted_in(units, self._received(whose))
        if whose in (None, self.source.batch and self.source.batch.pk):
            return units, []
        older = sum(self._whose(piece) == whose for piece in self._old)
        loose = spare(units, self.source.machines.get(whose, 0) * self.part.quantity - older)
        kept = list(units)
        for unit in loose:
            kept.remove(unit)
        return loose, kept

    def _received(self, whose: Any) -> list[int]:
        """Good ones by operation, less those found bad since; for no batch, less those entered by hand since."""
        bad = [self._through(piece) for piece in self._new if piece.project_id == whose and not _is_sound(piece)]
        lines = [[line for line in self._lines_of(row) if line.order.project_id == whose] for row in self.route]
        new = [[line for line in found if self.source.is_new(line, self.part)] for found in lines]
        entered = self._entered_since([line for found in new for line in found]) if whose is None else 0
        return [
            max(0, sum(line.good for line in found) - sum(through > at for through in bad) - entered)
            for at, found in enumerate(new)
        ]

    def _entered_since(self, lines: Iterable[OrderLine]) -> int:
        """Pieces entered without a receipt since the first of these came are taken for some of them."""
        came = [receipt.received_on for line in lines for receipt in line.standing_receipts]
        by_hand = [piece for piece in self._all if piece.receipt_id is None]
        return sum(bool(came) and timezone.localdate(piece.made_at) >= min(came) for piece in by_hand)

    # -- what does not count

    def _left_out(self, held: list[Unit], marked: dict[str, Piece]) -> Iterator[LeftOut]:
        lines = [line for row in self.route for line in self._lines_of(row) if line.outstanding]
        ours, others = (
            [one for one in lines if self.source.is_ours(one)],
            [one for one in lines if not self.source.is_ours(one)],
        )
        old = tuple(line for line in ours if not self.source.is_new(line, self.part))
        bad = tuple(piece for piece in self._all if not _is_sound(piece))
        kept = tuple(marked[unit.key] for unit in held if unit.key)
        found = (
            LeftOut("of an earlier revision", tuple(self._old), 0, tuple(old)),
            LeftOut("rejected or set aside", bad),
            LeftOut("for machines of another batch", kept, len(held) - len(kept), tuple(others)),
        )
        return (one for one in found if one.anything)


def _is_sound(piece: Piece) -> bool:
    return not (piece.set_aside or piece.rejected_for)


def _by(rows: Iterable[Any], name: str) -> dict[Any, list[Any]]:
    found = defaultdict(list)
    for row in rows:
        found[getattr(row, name)].append(row)
    return found
