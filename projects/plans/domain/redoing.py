"""What it costs to do a spoilt step again, and to wait: by which a plan is chosen where the weather is not sure."""

from collections import defaultdict

from finishing.science.scheduling.expectations import Prices
from projects.record.models.designs import Part
from projects.record.models.pieces import Piece
from projects.record.models.plans import Slot
from projects.work.domain.paint import Coat

from .problem import Layout
from .steps import Hung
from .tasks import RackTask, litre_price

Kind = Slot.Kind
TAKEN_OFF = 2.0  # times its minutes: a spoilt coat is rubbed down or stripped, and put on again   [our judgement]


def prices_of(layout: Layout) -> Prices:
    """By the name of each step that weather may spoil; a day of waiting as the run says, else an hour's wage."""
    terms = layout.scope.terms
    rate = max((float(visit.rate) for visit in terms.visits()), default=0.0)
    again = {
        task.name: round(100 * _again(hung, task, terms.hour, rate))
        for hung in layout.hung
        for task in hung.tasks
        if task.kind in (Kind.BLAST, Kind.COAT, Kind.LETTER)
    }
    return Prices(again, round(100 * terms.waiting))


def _again(hung: Hung, task: RackTask, hour: float, rate: float) -> float:
    if task.kind == Kind.BLAST:  # rusted before its coat came
        return task.minutes / 60 * (rate if hung.by_visit(task) else hour)
    return TAKEN_OFF * task.minutes / 60 * hour + _paint(hung, task)


def _paint(hung: Hung, task: RackTask) -> float:
    """What the paint of a coat costs by its cheapest litre; nothing where no tin has a price."""
    layer = task.layer
    if task.kind != Kind.COAT or layer is None or layer.coating is None or layer.dry_film_used is None:
        return 0.0
    by_part: dict[Part, list[Piece]] = defaultdict(list)
    for piece in hung.pieces:
        by_part[piece.part].append(piece)
    litres = sum(
        Coat(part, layer, hung.stands_in.outdoors, False, tuple(pieces)).litres.likely.to("L").magnitude
        for part, pieces in by_part.items()
    )
    return float(litres) * litre_price(layer.coating)
