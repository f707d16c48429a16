"""What is in stock of a design's parts, or ordered and not received: rows as values for `projects.money.stock`.

For a batch, what belongs to it counts, and what no other batch lays claim to: machines of another project keep what
sits in them, and of its other pieces as many as they have places for.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from uuid import UUID

from django.db.models import Count
from django.utils import timezone

from projects.money.stock import StockUnit, counted_in, spare
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


# Of a piece, what stock is counted by: a design has thousands
TOLD = (
    "mark", "part", "project", "machine", "revision", "receipt", "set_aside", "rejected_for", "rejected_in",
    "counts_against", "made_at", "workshop",
)  # fmt: skip


@dataclass(frozen=True)
class LeftOut:
    """What is there or on order and does not count, and why. more: how many without a mark."""

    why: str
    pieces: tuple[Piece, ...] = ()
    more: int = 0
    lines: tuple[OrderLine, ...] = ()


@dataclass(frozen=True)
class PartStock:
    """What counts of one part along its route, or without a part of the machine as a whole.

    units: those with a key have their piece in `marked` · lines: of orders that count, by operation
    """

    route: tuple[Operation, ...]
    units: tuple[StockUnit, ...] = ()
    marked: dict[str, Piece] = field(default_factory=dict)
    lines: dict[UUID, tuple[OrderLine, ...]] = field(default_factory=dict)
    left_out: tuple[LeftOut, ...] = ()

    @property
    def through(self) -> list[int]:
        """How many are through each operation."""
        return [sum(unit.through > at for unit in self.units) for at in range(len(self.route))]

    @property
    def on_order(self) -> list[int]:
        """How many are ordered of each operation and not received."""
        return [sum(line.outstanding for line in self.lines_of(row)) for row in self.route]

    def lines_of(self, row: Operation) -> tuple[OrderLine, ...]:
        return self.lines.get(row.pk, ())

    def pieces_through(self, row: Operation) -> list[Piece]:
        at = self.route.index(row)
        return [self.marked[unit.key] for unit in self.units if unit.key and unit.through > at]

    def expected(self, row: Operation, day: date) -> int:
        """Days until all that is on order of an operation should be there."""
        days = [(line.order.expected_on - day).days for line in self.lines_of(row) if line.outstanding]
        return max([0, *days])


@dataclass(frozen=True, eq=False)
class DesignStock:
    """Of one design, for a batch, or for machines of none yet."""

    design: Design
    batch: Project | None = None

    # -- rows, in a fixed number of queries

    @cached_property
    def newest(self) -> dict[UUID, Revision]:
        """The newest revision of each part that has one."""
        of_part: dict[UUID, list[Revision]] = defaultdict(list)
        for revision in Revision.objects.filter(part__design=self.design):
            of_part[revision.part_id].append(revision)
        return {part: in_order(revisions)[-1] for part, revisions in of_part.items()}

    @cached_property
    def pieces(self) -> dict[UUID, list[Piece]]:
        """By part; what only a voided receipt made was never there."""
        rows = Piece.objects.filter(part__design=self.design).order_by("mark")
        gone = rows.filter(set_aside=True, rejected_for="", receipt__voided_by__isnull=False)
        rows = rows.exclude(pk__in=gone.order_by().values("pk"))
        of_part: dict[UUID, list[Piece]] = defaultdict(list)
        for piece in rows.only(*TOLD).prefetch_related("revision", "rejected_in__line"):
            of_part[piece.part_id].append(piece)
        return of_part

    @cached_property
    def lines(self) -> dict[UUID, list[OrderLine]]:
        """By operation, of orders that were not cancelled."""
        rows = OrderLine.objects.filter(operation__design=self.design, order__cancelled_on=None)
        rows = rows.select_related("order__supplier", "operation", "revision").prefetch_related("receipts")
        of_operation: dict[UUID, list[OrderLine]] = defaultdict(list)
        for line in rows.order_by("order__ordered_on", "pk"):
            of_operation[line.operation_id].append(line)
        return of_operation

    @cached_property
    def machines(self) -> dict[UUID, int]:
        """How many each project has."""
        return dict(self.design.projects.annotate(count=Count("machines")).values_list("pk", "count"))

    @cached_property
    def fitted(self) -> dict[UUID, Fitting]:
        """By piece, where it sits."""
        return sits_in([piece for pieces in self.pieces.values() for piece in pieces])

    @cached_property
    def logged(self) -> dict[UUID, set[str]]:
        """By piece, what was done of its finishing and still stands."""
        steps = standing_steps(self.design.workshop).filter(piece__part__design=self.design, kind__in=LOGGED)
        steps = steps.prefetch_related(None)
        kinds: dict[UUID, set[str]] = defaultdict(set)
        for piece, kind in steps.order_by().values_list("piece_id", "kind").distinct():
            kinds[piece].add(kind)
        return kinds

    # -- of one part

    def of(self, part: Part | None, route: Iterable[Operation]) -> PartStock:
        """What is done to a whole machine is done to one of the batch: what earlier ones had does not count."""
        rows = tuple(route)
        if part:
            return _PartReader(self, part, rows).read()
        lines = {row.pk: tuple(line for line in self.lines.get(row.pk, ()) if self.is_ours(line)) for row in rows}
        done = [sum(line.good for line in lines[row.pk] if line.order.project_id) for row in rows]
        return PartStock(rows, tuple(counted_in((), done)), {}, lines)

    def is_ours(self, line: OrderLine) -> bool:
        """Ordered for the batch, or for none."""
        return line.order.project_id in (None, self.batch and self.batch.pk)

    def is_new(self, row: Piece | OrderLine, part: Part) -> bool:
        """Of the newest revision, or of none that was named, as a quote for no revision counts for each."""
        newest = self.newest.get(part.pk)
        return newest is None or row.revision_id in (None, newest.pk)


@dataclass(frozen=True, eq=False)
class _PartReader:
    """One part's pieces and orders, project by project. A project is known by its key; None: for no batch."""

    source: DesignStock
    part: Part
    route: tuple[Operation, ...]

    def read(self) -> PartStock:
        ordered = {line.order.project_id for row in self.route for line in self._lines_of(row)}
        projects = {*self._sound_of, *ordered}
        units: list[StockUnit] = []
        kept: list[StockUnit] = []
        for project in projects:
            free, others = self._free(project)
            units += free
            kept += others
        marked = {str(piece.pk): piece for piece in self._sound}
        lines = {row.pk: tuple(filter(self._counts, self.source.lines.get(row.pk, ()))) for row in self.route}
        return PartStock(self.route, tuple(units), marked, lines, tuple(self._left_out(kept, marked)))

    # -- pieces

    @cached_property
    def _all(self) -> list[Piece]:
        return self.source.pieces.get(self.part.pk, [])

    @cached_property
    def _new(self) -> list[Piece]:
        return [piece for piece in self._all if self.source.is_new(piece, self.part)]

    @cached_property
    def _old(self) -> list[Piece]:
        new = {piece.pk for piece in self._new}
        return [piece for piece in self._all if piece.pk not in new and _is_sound(piece)]

    @cached_property
    def _sound(self) -> list[Piece]:
        return [piece for piece in self._new if _is_sound(piece)]

    @cached_property
    def _sound_of(self) -> dict[UUID | None, list[Piece]]:
        """By project."""
        of_project: dict[UUID | None, list[Piece]] = defaultdict(list)
        for piece in self._sound:
            of_project[self._whose(piece)].append(piece)
        return of_project

    def _whose(self, piece: Piece) -> UUID | None:
        """The project of the machine that it sits in, else its own."""
        fitting = self.source.fitted.get(piece.pk)
        return fitting.machine.project_id if fitting else piece.project_id

    def _through(self, piece: Piece) -> int:
        """How many operations it is through, by where it sits, its log, and where it was rejected.

        Rejected on receipt, it is through all before the operation that spoilt it; found later, through that one too.
        """
        if piece.pk in self.source.fitted:
            return len(self.route)
        kinds = self.source.logged.get(piece.pk, set())
        logged = [self._before(process) for kind, process in LOGGED.items() if kind in kinds]
        place = {row.pk: at for at, row in enumerate(self.route)}
        if piece.rejected_in:
            spoilt = place.get(piece.rejected_in.line.operation_id, 0)
        else:
            spoilt = place[piece.counts_against_id] + 1 if piece.counts_against_id in place else 0
        return max(self._made, spoilt, *logged, 0)

    def _before(self, process: str) -> int:
        """Operations before the first of this process; none where the route has none."""
        return next((at for at, row in enumerate(self.route) if row.process == process), 0)

    @cached_property
    def _made(self) -> int:
        """Operations after which there is something to put a mark on."""
        return max((at + 1 for at, row in enumerate(self.route) if row.process in Operation.MAKING), default=0)

    # -- by project

    def _lines_of(self, row: Operation) -> list[OrderLine]:
        """What is ordered of the part itself."""
        return self.source.lines.get(row.pk, []) if row.process != Process.PATTERN else []

    def _counts(self, line: OrderLine) -> bool:
        """A pattern is the design's, whichever batch bore it."""
        ours = line.operation.process == Process.PATTERN or self.source.is_ours(line)
        return ours and self.source.is_new(line, self.part)

    def _free(self, project: UUID | None) -> tuple[list[StockUnit], list[StockUnit]]:
        """What the project leaves over, and what its machines keep; of the batch's own all is free."""
        units = [
            StockUnit(
                str(piece.pk), self._through(piece), piece.machine_id is not None or piece.pk in self.source.fitted
            )
            for piece in self._sound_of.get(project, ())
        ]
        units = counted_in(units, self._received(project))
        if project in (None, self.source.batch and self.source.batch.pk):
            return units, []
        older = sum(self._whose(piece) == project for piece in self._old)
        free = spare(units, self.source.machines.get(project, 0) * self.part.quantity - older)
        kept = list(units)
        for unit in free:
            kept.remove(unit)
        return free, kept

    def _received(self, project: UUID | None) -> list[int]:
        """Good ones by operation, less those found bad since; for no batch, less those entered by hand since."""
        bad = [self._through(piece) for piece in self._new if piece.project_id == project and not _is_sound(piece)]
        lines = [
            [
                line
                for line in self._lines_of(row)
                if line.order.project_id == project and self.source.is_new(line, self.part)
            ]
            for row in self.route
        ]
        entered = 0
        came = [receipt.received_on for own in lines for line in own for receipt in line.standing_receipts]
        if project is None and came:  # pieces entered without a receipt since the first came are some of them
            by_hand = [piece for piece in self._all if piece.receipt_id is None]
            entered = sum(timezone.localdate(piece.made_at) >= min(came) for piece in by_hand)
        return [
            max(0, sum(line.good for line in own) - sum(through > at for through in bad) - entered)
            for at, own in enumerate(lines)
        ]

    # -- what does not count

    def _left_out(self, kept: list[StockUnit], marked: dict[str, Piece]) -> Iterator[LeftOut]:
        lines = [line for row in self.route for line in self._lines_of(row) if line.outstanding]
        others = tuple(line for line in lines if not self.source.is_ours(line))
        old = tuple(line for line in lines if self.source.is_ours(line) and not self.source.is_new(line, self.part))
        if self._old or old:
            yield LeftOut("of an earlier revision", tuple(self._old), 0, old)
        bad = tuple(piece for piece in self._all if not _is_sound(piece))
        if bad:
            yield LeftOut("rejected or set aside", bad)
        theirs = tuple(marked[unit.key] for unit in kept if unit.key)
        if kept or others:
            yield LeftOut("for machines of another batch", theirs, len(kept) - len(theirs), others)


def _is_sound(piece: Piece) -> bool:
    return not (piece.set_aside or piece.rejected_for)
