"""Those who want a machine of a design together: how many, at what price, and what they have paid."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import accumulate

from finishing.science.units import Quantity
from projects.record.models.buyers import NOTHING, Buyer
from projects.record.models.designs import Design


@dataclass(frozen=True)
class Bearing:
    """A price that somebody would bear, and how many machines would go at it: theirs and all above."""

    price: Decimal
    buyer: Buyer
    machines: int

    @property
    def said(self) -> str:
        return self.buyer.get_standing_display() if self.buyer.agreed_price is None else "agreed"


@dataclass(frozen=True)
class BuyerBook:
    buyers: tuple[Buyer, ...]

    @classmethod
    def of(cls, design: Design) -> "BuyerBook":
        rows = design.buyers.select_related("machine__project").prefetch_related("payments")
        order = {standing: place for place, standing in enumerate((Buyer.Standing.FIRM, Buyer.Standing.ENQUIRY))}
        return cls(tuple(sorted(rows, key=lambda buyer: (order.get(buyer.standing, 2), buyer.enquired_on))))

    @property
    def firm(self) -> list[Buyer]:
        return [buyer for buyer in self.buyers if buyer.standing == Buyer.Standing.FIRM]

    @property
    def asking(self) -> list[Buyer]:
        return [buyer for buyer in self.buyers if buyer.standing == Buyer.Standing.ENQUIRY]

    @property
    def firm_machines(self) -> int:
        return _machines(self.firm)

    @property
    def asked_machines(self) -> int:
        return _machines(self.asking)

    @property
    def bearings(self) -> list[Bearing]:
        """Highest first, of machines to be made: somebody's own machine is a restoration, and no sale."""
        rows = [buyer for buyer in self.buyers if buyer.wants_one and buyer.bears is not None and not buyer.own_machine]
        rows.sort(key=lambda buyer: -buyer.bears)
        sold = accumulate(buyer.count for buyer in rows)
        return [Bearing(buyer.bears, buyer, machines) for buyer, machines in zip(rows, sold, strict=True)]

    @property
    def paid(self) -> Decimal:
        """What has come in of all of them, deposits and stages."""
        return sum((buyer.paid for buyer in self.buyers), NOTHING)

    @property
    def owed(self) -> Decimal:
        return sum((buyer.owed for buyer in self.firm), NOTHING)


def _machines(buyers: Iterable[Buyer]) -> int:
    """To be made; their own machines are restored."""
    return sum(buyer.count for buyer in buyers if not buyer.own_machine)


@dataclass(frozen=True)
class MachineMass:
    """What a machine weighs by its parts, and the parts that nobody has weighed."""

    known: Quantity
    missing: tuple[str, ...]

    @classmethod
    def of(cls, design: Design) -> "MachineMass":
        parts = list(design.parts.all())
        weighed = [part.mass.to("kg").magnitude * part.quantity for part in parts if part.mass is not None]
        return cls(Quantity(sum(weighed), "kg"), tuple(part.name for part in parts if part.mass is None))
