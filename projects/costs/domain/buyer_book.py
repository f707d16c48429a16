"""Those who want a machine of a design together: how many, at what price, and what they have paid."""

from dataclasses import dataclass
from decimal import Decimal

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
        """Firm ones first, then those who have asked, then those who no longer want one; each as they came."""
        rows = design.buyers.select_related("machine__project").prefetch_related("payments")
        order = [Buyer.Standing.FIRM.value, Buyer.Standing.ENQUIRY.value, Buyer.Standing.GONE.value]
        return cls(tuple(sorted(rows, key=lambda buyer: (order.index(buyer.standing), buyer.enquired_on))))

    @property
    def firm(self) -> list[Buyer]:
        return [buyer for buyer in self.buyers if buyer.standing == Buyer.Standing.FIRM]

    @property
    def asking(self) -> list[Buyer]:
        return [buyer for buyer in self.buyers if buyer.standing == Buyer.Standing.ENQUIRY]

    @property
    def firm_machines(self) -> int:
        """To be made; their own machines are restored."""
        return sum(buyer.count for buyer in self.firm if not buyer.own_machine)

    @property
    def asked_machines(self) -> int:
        """To be made; their own machines are restored."""
        return sum(buyer.count for buyer in self.asking if not buyer.own_machine)

    @property
    def bearings(self) -> list[Bearing]:
        """Highest first, of machines to be made: somebody's own machine is a restoration, and no sale."""
        buyers = [buyer for buyer in self.buyers if buyer.wants_one and not buyer.own_machine]
        priced = [(buyer.bears, buyer) for buyer in buyers if buyer.bears is not None]
        bearings: list[Bearing] = []
        for price, buyer in sorted(priced, key=lambda pair: -pair[0]):
            above = bearings[-1].machines if bearings else 0
            bearings.append(Bearing(price, buyer, above + buyer.count))
        return bearings

    @property
    def bearable(self) -> list[Decimal]:
        """For each machine to be made that a firm buyer wants, what it would bring, where they named a price."""
        firm = [buyer for buyer in self.firm if not buyer.own_machine]
        return [buyer.bears for buyer in firm if buyer.bears is not None for _ in range(buyer.count)]

    @property
    def paid(self) -> Decimal:
        """What has come in of all of them, deposits and stages."""
        return sum((buyer.paid for buyer in self.buyers), NOTHING)

    @property
    def owed(self) -> Decimal:
        return sum((buyer.owed for buyer in self.firm), NOTHING)


@dataclass(frozen=True)
class MachineMass:
    """What a machine weighs by its parts, a Quantity, and the parts that nobody has weighed."""

    known: Quantity
    missing: tuple[str, ...]

    @classmethod
    def of(cls, design: Design) -> "MachineMass":
        parts = list(design.parts.all())
        weighed = [part.mass.to("kg").magnitude * part.quantity for part in parts if part.mass is not None]
        return cls(Quantity(sum(weighed), "kg"), tuple(part.name for part in parts if part.mass is None))
