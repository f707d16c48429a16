"""The workshop's own rates, out of its log: what each entry tells, their middle, and what is reckoned with now.

Nothing here changes a rate. One rack is one entry: its time was typed once, however many pieces hung in it.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from finishing.coatings.models import Layer
from finishing.science.units import Quantity
from finishing.science.working import Working
from finishing.site.fields import pint_unit
from projects.money.own_rates import ENOUGH, Middle, middle, middle_working
from projects.record.models.designs import Design
from projects.record.models.routes import Operation
from projects.record.models.steps import Step
from projects.work.domain.work_log import Rack, racks, standing_steps

from .hand_work import lots, minutes_each, operations_logged

Kind = Step.Kind
LATEST = 2000  # entries looked back upon


@dataclass(frozen=True)
class OwnRate:
    """A rate of the workshop's, or of an operation on a route, by its column; `figures` in the column's unit.

    One for each rack. `fixed`: the log says something of it that cannot be kept as it stands.
    """

    row: Any
    name: str
    column: Any
    figures: tuple[float, ...]
    note: str
    fixed: bool = False

    @property
    def label(self) -> str:
        own = isinstance(self.row, Operation)
        return f"{self.row.design}, {self.row}: {self.column.verbose_name}" if own else str(self.column.verbose_name)

    @property
    def now(self) -> Any:
        return getattr(self.row, self.column.name)

    @property
    def unit(self) -> str:
        return str(self.column.unit)

    @cached_property
    def found(self) -> Middle | None:
        return middle(self.figures)

    @property
    def lacking(self) -> int:
        return max(0, ENOUGH - len(self.figures))

    @property
    def learned(self) -> Any:
        """To a tenth, as it would be kept."""
        return self._quantity(round(self.found.median, 1)) if self.found else None

    @property
    def half(self) -> tuple[Any, Any] | None:
        return (self._quantity(self.found.low), self._quantity(self.found.high)) if self.found else None

    @property
    def offered(self) -> bool:
        """It says something else than what is reckoned with, and may be kept."""
        return not self.fixed and self.learned is not None and self.learned != self.now and self._may_be_kept

    @property
    def _may_be_kept(self) -> bool:
        return bool(self.column.minimum <= self.learned.magnitude <= self.column.maximum)

    @property
    def working(self) -> Working | None:
        return middle_working(self.label, self.figures, self.unit, self.note)

    def _quantity(self, figure: float) -> Any:
        return Quantity(figure, pint_unit(self.unit))


def own_rates(workshop: Any, mixing_in: bool = False) -> list[OwnRate]:
    """`mixing_in`: the time logged for a coat holds mixing and cleaning up too, which are taken out of it."""
    steps = standing_steps(workshop).exclude(minutes=None).order_by("-happened_at")[:LATEST]
    by_kind = _by_kind(racks(steps))
    around = workshop.rates.around_a_coat if mixing_in else 0.0
    brushed = [rack for rack in by_kind(Kind.COATED) if rack.brushed]
    coat = "mixing and cleaning up taken out of each" if mixing_in else "taken as brushing alone"
    return [
        _rate(
            workshop, "brush_minutes", _by_area(brushed, around), f"Coats put on by brush; the time logged is {coat}."
        ),
        _rate(
            workshop,
            "blasting_minutes",
            _by_area(by_kind(Kind.BLASTED, Kind.NOTED)),
            "Every piece or rack whose blasting was timed, of whatever work and grade.",
        ),
        _rate(workshop, "moving_minutes", [rack.minutes for rack in by_kind(Kind.MOVED)], "Racks moved with a time."),
        *_logged_as_work(workshop, by_kind(Kind.WORKED)),
    ]


def _logged_as_work(workshop: Any, worked: list[Rack]) -> list[OwnRate]:
    """Masking by area; mixing and cleaning up once for each entry."""

    def of(work: str) -> list[Rack]:
        return [rack for rack in worked if rack.steps[0].work == work]

    once = {"mixing_minutes": Step.Work.MIXING, "cleaning_minutes": Step.Work.CLEANING_UP}
    return [
        _rate(workshop, "masking_minutes", _by_area(of(Step.Work.MASKING)), "Masking of racks, by their painted area."),
        *(
            _rate(workshop, name, [rack.minutes for rack in of(work)], f"Each entry of {work.label} as one time.")
            for name, work in once.items()
        ),
    ]


def operation_rates(workshop: Any) -> list[OwnRate]:
    """Own hands for a piece, of every operation that has been timed; the set-up stays as it is."""
    steps = standing_steps(workshop).filter(kind=Kind.WORKED).exclude(minutes=None).order_by("-happened_at")[:LATEST]
    found: dict[Operation, list[float]] = defaultdict(list)
    for lot in lots(steps, operations_logged(Design.objects.of(workshop)))[0]:
        found[lot.operation].append(minutes_each(lot))
    return [_of_operation(row, figures) for row, figures in sorted(found.items(), key=lambda one: str(one[0]))]


def _of_operation(row: Operation, figures: Iterable[float]) -> OwnRate:
    known = tuple(figure for figure in figures if figure > 0)
    per = "piece" if row.part_id else "machine"
    note = (
        f"Each entry is the time of its lot for one {per}, less the set-up of {row.setup_minutes.magnitude:g} min that "
        "is reckoned with: one time for a lot does not tell set-up and cycle apart."
    )
    if row.learning is not None:
        note += " A learning curve is reckoned with here, which begins at the first one, so nothing is offered."
    return OwnRate(row, str(row.pk), row._meta.get_field("each_minutes"), known, note, fixed=row.learning is not None)


def brushed_layers(workshop: Any) -> list[Layer]:
    """Coats by brush in the systems here: plans and costs read their own time, not the workshop's."""
    rows = Layer.objects.of(workshop).filter(kind=Layer.Kind.COAT, method=Layer.Method.BRUSH)
    return list(rows.select_related("system", "coating"))


def _by_kind(found: list[Rack]) -> Callable[..., list[Rack]]:
    return lambda *kinds: [rack for rack in found if rack.steps[0].kind in kinds]


def _by_area(found: Iterable[Rack], around: float = 0.0) -> list[float]:
    """Minutes for a square metre of each; where less was logged than what is taken out, it says nothing."""
    pairs = [(rack.minutes - around, rack.area) for rack in found]
    return [minutes / area for minutes, area in pairs if area and minutes > 0]


def _rate(workshop: Any, name: str, figures: Iterable[float], note: str) -> OwnRate:
    return OwnRate(workshop, name, workshop._meta.get_field(name), tuple(figures), note)
