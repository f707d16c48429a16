"""What is to be done to a rack, as rows know it, before places and hours."""

from dataclasses import dataclass
from functools import cached_property

from finishing.coatings.models import Coating, Layer
from finishing.science import film
from finishing.science.units import Quantity
from finishing.science.windows import Gates
from projects.record.models.plans import Slot
from projects.work.domain.paint import METHODS

Kind = Slot.Kind
NO_PAINT = Quantity(0, "L")
NEAR = Gates(margin=3.0, humidity_max=None)  # what metal asks that is blasted, wiped or rubbed down


def litre_price(coating: Coating) -> float:
    """Money that the cheapest litre of it costs; nothing where no tin has a price."""
    tins = [(size.price, size.litres.to("L").magnitude) for size in coating.tin_sizes.all()]
    return min((float(price) / float(litres) for price, litres in tins if price is not None), default=0.0)


@dataclass(frozen=True, eq=False)
class RackTask:
    """One step of a rack as rows know it, before places and hours.

    prepared: what is done to the pieces just before their coat, in one go with it and by the same person; in the air
    that the coat asks for, since nobody knows how far somebody is with it.
    """

    name: str
    kind: Kind
    label: str
    minutes: float
    layer: Layer | None = None
    coating: Coating | None = None
    people: int = 1
    before: Layer | None = None  # the coat for which the pieces are turned over
    prepared: tuple[Layer, ...] = ()

    @property
    def key(self) -> str:
        """What tells it again in another plan, and from all others of its rack."""
        layer = self.layer or self.before
        return f"{self.kind}:{layer.pk}" if layer else str(self.kind)

    @cached_property
    def paint(self) -> str:
        """Of a coat, what is the same where one mix serves several racks; "" of all else."""
        if self.kind != Kind.COAT or self.layer is None or self.coating is None or self.layer._state.adding:
            return ""
        stirred = sorted(str(additive.pk) for additive in self.layer.additives.all())
        return " ".join([str(self.coating.pk), self.layer.method, str(self.layer.thinning_used), *stirred])

    @property
    def left_in_gun(self) -> float:
        """Money for the paint that stays in gun and pot after each session, however little was mixed.

        What a brush and a tin keep goes with what is mixed, and costs the same in one session or in two.
        """
        if self.layer is None or self.coating is None:
            return 0.0
        method = METHODS.get(self.layer.method, self.layer.method)
        return float(film.left_behind(method, NO_PAINT).likely.m_as("L")) * litre_price(self.coating)

    @property
    def told(self) -> str:
        """What somebody is told to do: "rub down, tack off and coat of …"."""
        prepared = ", ".join(layer.label for layer in self.prepared)
        return f"{prepared} and {self.label}" if prepared else self.label

    def coats(self, side: str) -> bool:
        """It puts a coat on this side, or on some of it."""
        return self.kind == Kind.COAT and self.layer is not None and self.layer.lies_on(side)

    @property
    def wheeled_key(self) -> str:
        """The same for its being wheeled on to dry."""
        return f"{Kind.MOVE}:out:{self.key}"

    @cached_property
    def gates(self) -> Gates | None:
        """None where weather does not matter."""
        if self.layer and self.layer.coating:
            return self.layer.gates()
        if self.coating:
            return self.coating.gates()
        return NEAR if self.kind in (Kind.BLAST, Kind.CLEAN, Kind.PREPARE) else None

    @cached_property
    def slower(self) -> float:
        """By how much film and additives lengthen its drying."""
        if not self.coating:
            return 1.0
        return float(self.layer.slower if self.layer else self.coating.slower())
