"""The workshop's own rates, out of its log: what each entry tells, their middle, and what is reckoned with now.

Nothing here changes a rate. One rack is one entry: its time was typed once, however many pieces hung in it.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from finishing.coatings.models import Layer
from finishing.science.units import Quantity
from finishing.science.working import Working
from finishing.site.fields import QuantityField, pint_unit
from finishing.workshops.models import Workshop
from projects.money.learning import LearningModel
from projects.money.own_rates import FEWEST, Middle, middle, middle_working
from projects.record.models.cost_terms import terms_of
from projects.record.models.designs import Design
from projects.record.models.routes import Operation
from projects.record.models.steps import Step
from projects.work.domain.work_log import Rack, racks, standing_steps

from .hand_work import in_turn, logged_lots, may_be_logged

Kind, Work = Step.Kind, Step.Work
LATEST = 2000  # entries looked back upon


@dataclass(frozen=True)
class OwnRate:
    """A rate of the workshop's, or of an operation on a route, by its column; `figures` in the column's unit.

    One figure for each rack.
    """

    row: Workshop | Operation
    name: str
    column: QuantityField
    figures: tuple[float, ...]
    note: str

    @property
    def label(self) -> str:
        named = str(self.column.verbose_name)
        return f"{self.row.design}, {self.row}: {named}" if isinstance(self.row, Operation) else named

    @property
    def now(self) -> Quantity:
        """What is reckoned with."""
        return getattr(self.row, self.column.name)

    @cached_property
    def middle(self) -> Middle | None:
        """None where there are too few entries."""
        return middle(self.figures)

    @property
    def lacking(self) -> int:
        """Entries that are needed before it says anything."""
        return max(0, FEWEST - len(self.figures))

    @property
    def learned(self) -> Quantity | None:
        """The median to a tenth, as it would be kept; None where there are too few entries."""
        return self._quantity(round(self.middle.median, 1)) if self.middle else None

    @property
    def half(self) -> tuple[Quantity, Quantity] | None:
        """The ends of the middle half of the entries."""
        return (self._quantity(self.middle.low), self._quantity(self.middle.high)) if self.middle else None

    @property
    def offered(self) -> bool:
        """It says something else than what is reckoned with, and may be kept."""
        if self.learned is None or self.learned == self.now:
            return False
        least, most = self.column.minimum, self.column.maximum
        return (least is None or least <= self.learned.magnitude) and (most is None or self.learned.magnitude <= most)

    @property
    def working(self) -> Working | None:
        return middle_working(self.label, self.figures, self.column.unit, self.note)

    def _quantity(self, figure: float) -> Quantity:
        return Quantity(figure, pint_unit(self.column.unit))


def own_rates(workshop: Workshop, mixing_in: bool = False) -> list[OwnRate]:
    """`mixing_in`: the time logged for a coat holds mixing and cleaning up too, which are taken out of it."""
    rows = standing_steps(workshop).exclude(minutes=None).prefetch_related("piece__part")
    steps = rows.order_by("-happened_at")[:LATEST]
    of_kind: dict[str, list[Rack]] = defaultdict(list)
    of_work: dict[str, list[Rack]] = defaultdict(list)
    for rack in racks(steps):
        of_kind[rack.steps[0].kind].append(rack)
        if rack.steps[0].kind == Kind.WORKED:
            of_work[rack.steps[0].work].append(rack)
    around = workshop.rates.around_a_coat if mixing_in else 0.0
    coat = "mixing and cleaning up taken out of each" if mixing_in else "taken as brushing alone"
    brushed = [rack for rack in of_kind[Kind.COATED] if rack.brushed]
    blasted = [*of_kind[Kind.BLASTED], *of_kind[Kind.NOTED]]
    figures = {
        "brush_minutes": (_by_area(brushed, around), f"Coats put on by brush; the time logged is {coat}."),
        "blasting_minutes": (
            _by_area(blasted),
            "Every piece or rack whose blasting was timed, of whatever work and grade.",
        ),
        "moving_minutes": ([rack.minutes for rack in of_kind[Kind.MOVED]], "Racks moved with a time."),
        "masking_minutes": (_by_area(of_work[Work.MASKING]), "Masking of racks, by their painted area."),
    }
    for name, work in (("mixing_minutes", Work.MIXING), ("cleaning_minutes", Work.CLEANING_UP)):
        figures[name] = [rack.minutes for rack in of_work[work]], f"Each entry of {work.label} as one time."
    return [OwnRate(workshop, name, _column(workshop, name), tuple(own), note) for name, (own, note) in figures.items()]


def operation_rates(workshop: Workshop) -> list[OwnRate]:
    """Own hands for a piece, of every operation that has been timed; the set-up stays as it is."""
    rows = standing_steps(workshop).filter(kind=Kind.WORKED).exclude(minutes=None).prefetch_related("piece__part")
    steps = list(rows.order_by("-happened_at")[:LATEST])
    figures: dict[Operation, list[float]] = defaultdict(list)
    terms = {design.pk: terms_of(design) for design in Design.objects.of(workshop)}
    operations = Operation.objects.of(workshop).select_related("part", "design")
    lots = logged_lots(reversed(steps), may_be_logged(operations))[0]
    for design, chosen in terms.items():
        own_lots = (lot for lot in lots if lot.operation.design_id == design)
        for lot, new, before in in_turn(own_lots, chosen.made_before):
            figures[lot.operation].append(lot.minutes_of_first(new, before, LearningModel(chosen.reading)))
    rates = []
    for row, own in sorted(figures.items(), key=lambda entry: str(entry[0])):
        per = "piece" if row.part_id else "machine"
        note = (
            f"Each entry is the time of its lot for one {per}, less the set-up of {row.setup_minutes.magnitude:g} min "
            "that is reckoned with: one time for a lot does not tell set-up and cycle apart."
        )
        if row.learning is not None:
            note += (
                f" Told as the first {per} would have taken it, by the learning curve of {row.learning.normalize():f} %"
                " and as many as had been made before it."
            )
        known = tuple(figure for figure in own if figure > 0)
        rates.append(OwnRate(row, str(row.pk), _column(row, "each_minutes"), known, note))
    return rates


def brushed_layers(workshop: Workshop) -> list[Layer]:
    """Coats by brush in the systems here: plans and costs read their own time, not the workshop's."""
    rows = Layer.objects.of(workshop).filter(kind=Layer.Kind.COAT, method=Layer.Method.BRUSH)
    return list(rows.select_related("system", "coating"))


def _by_area(timed: Iterable[Rack], around: float = 0.0) -> list[float]:
    """Minutes for a square metre of each; where less was logged than what is taken out, it says nothing."""
    pairs = [(rack.minutes - around, rack.area) for rack in timed]
    return [minutes / area for minutes, area in pairs if area and minutes > 0]


def _column(row: Workshop | Operation, name: str) -> QuantityField:
    column = row._meta.get_field(name)
    assert isinstance(column, QuantityField)
    return column
