"""What must be bought for a batch, who offers it on what terms, and what of it cannot be had, before any choosing.

A part's route is a chain of needs, each worked on by whoever it goes to next; the last one's goods come home.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from .breaks import PriceList
from .rounding import CENT, cents, not_below_nothing

NOTHING = Decimal(0)
HOME = "workshop"


@dataclass(frozen=True)
class SupplierTerms:
    """delivery: for an order, to each place that it goes to · minimum: an order for less is charged as this."""

    key: str
    delivery: Decimal = NOTHING
    minimum: Decimal = NOTHING

    def __post_init__(self) -> None:
        not_below_nothing(f"{self.key}, delivery", self.delivery)
        not_below_nothing(f"{self.key}, least order", self.minimum)


@dataclass(frozen=True)
class Offer:
    """One supplier's prices for one operation. Tooling in the price list is paid with the order.

    replaced: pieces that he gives free of charge for bad ones, so that as many fewer are ordered
    """

    key: str
    operation: str
    supplier: str
    prices: PriceList
    lead_days: int = 0
    replaced: int = 0

    def __post_init__(self) -> None:
        if self.lead_days < 0:
            raise ValueError(f"{self.key}: it cannot take {self.lead_days} days; enter 0 or more.")


@dataclass(frozen=True)
class PurchaseNeed:
    """So many pieces through one operation of a part's route.

    follows: the operation before it, whose goods go to whoever does this one
    keep_with: another operation that the same supplier should do
    """

    key: str
    part: str
    quantity: int
    process: str = ""
    follows: str | None = None
    keep_with: str | None = None

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise ValueError(f"{self.key}: a quantity of {self.quantity} cannot be ordered; enter 1 or more.")


class TroubleReason(StrEnum):
    NO_OFFER = "nobody offers it"
    TOO_LATE = "it cannot be there in time"
    NOBODY_DOES_BOTH = "no supplier does both"
    KEPT_APART = "no plan has one supplier for both, beside the other wishes and the date"


@dataclass(frozen=True)
class Trouble:
    """What a plan had to leave out (the first two reasons) or a wish that it does not meet (the others).

    days: the fewest that they take, where they come too late
    """

    reason: TroubleReason
    needs: tuple[str, ...]
    days: int | None = None

    def __str__(self) -> str:
        soonest = "" if self.days is None else f": {self.days} days at the soonest"
        return f"{', '.join(self.needs)}: {self.reason}{soonest}."


@dataclass(frozen=True)
class OfferChoice:
    """An offer for a need at its cheapest quantity. cost: in whole cents, tooling with it."""

    offer: Offer
    quantity: int
    cost: int

    @property
    def supplier(self) -> str:
        return self.offer.supplier

    @property
    def days(self) -> int:
        return self.offer.lead_days


Chain = tuple[str, ...]
Picks = dict[str, OfferChoice]
Wish = tuple[str, str]


@dataclass(frozen=True)
class Case:
    """What is left to choose: each need has an offer, each chain can be there in time. troubles: what was left out."""

    needs: dict[str, PurchaseNeed]
    choices: dict[str, list[OfferChoice]]
    chains: list[Chain]
    wishes: tuple[Wish, ...]
    suppliers: dict[str, SupplierTerms]
    days: int | None
    home: str
    troubles: tuple[Trouble, ...]

    def arcs(self) -> Iterator[tuple[str, str | None]]:
        """Each need and the one that its goods go to; None: home."""
        for chain in self.chains:
            yield from zip(chain, (*chain[1:], None), strict=True)


Keyed = TypeVar("Keyed", PurchaseNeed, Offer, SupplierTerms)


def lay_out(
    needs: Sequence[PurchaseNeed],
    offers: Sequence[Offer],
    suppliers: Sequence[SupplierTerms],
    days: int | None = None,
    home: str = HOME,
) -> Case:
    """What can be chosen; what cannot be had, or cannot be there within `days`, is left out and named.

    Days are counted from the order; None: there is no hurry.
    Raises ValueError where keys are doubled or unknown, or a route has two ends or none.
    """
    known = {home: SupplierTerms(home), **_by_key("supplier", suppliers)}
    wanted = _by_key("operation", needs)
    _check(wanted, _by_key("offer", offers), known)
    choices = {need.key: _choices(need, offers, days) for need in needs}
    missing = tuple(Trouble(TroubleReason.NO_OFFER, (key,)) for key in wanted if not choices[key])
    chains = _chains({key: need for key, need in wanted.items() if choices[key]})
    late = tuple(_late(chains, choices, days))
    kept = [chain for chain in chains if all(chain != trouble.needs for trouble in late)]
    planned = {key: wanted[key] for chain in kept for key in chain}
    wishes = tuple((n.key, n.keep_with) for n in planned.values() if n.keep_with in planned)
    return Case(planned, {k: choices[k] for k in planned}, kept, wishes, known, days, home, missing + late)


def _by_key(what: str, values: Sequence[Keyed]) -> dict[str, Keyed]:
    keyed = {value.key: value for value in values}
    if len(keyed) < len(values):
        twice = next(v.key for v in values if sum(other.key == v.key for other in values) > 1)
        raise ValueError(f"{what} {twice}: it is there twice.")
    return keyed


def _check(needs: dict[str, PurchaseNeed], offers: dict[str, Offer], suppliers: dict[str, SupplierTerms]) -> None:
    for offer in offers.values():
        if offer.supplier not in suppliers:
            raise ValueError(f"offer {offer.key}: there is no supplier {offer.supplier}.")
    followed: dict[str, str] = {}
    for need in needs.values():
        for other in filter(None, (need.follows, need.keep_with)):
            if other not in needs or other == need.key:
                raise ValueError(f"{need.key}: there is no other operation {other}.")
        if need.follows and followed.setdefault(need.follows, need.key) != need.key:
            raise ValueError(f"{need.follows}: both {followed[need.follows]} and {need.key} follow it.")
    if sum(map(len, _chains(needs))) < len(needs):
        raise ValueError("route: operations follow one another in a circle.")


def _choices(need: PurchaseNeed, offers: Sequence[Offer], days: int | None) -> list[OfferChoice]:
    """Offers of which none costs more than another of the same supplier that takes no longer."""
    priced = [_choice(need, offer) for offer in offers if offer.operation == need.key]
    kept: list[OfferChoice] = []
    for choice in sorted(priced, key=lambda choice: (choice.cost, choice.days)):
        cheaper = (other for other in kept if other.supplier == choice.supplier)
        if not any(days is None or other.days <= choice.days for other in cheaper):
            kept.append(choice)
    return kept


def _choice(need: PurchaseNeed, offer: Offer) -> OfferChoice:
    """A line of an order is rounded to the cent, half a cent up; all sums after that are of whole cents."""
    purchase = offer.prices.cheapest(max(1, need.quantity - offer.replaced))
    return OfferChoice(offer, purchase.quantity, in_cents(purchase.cost + offer.prices.tooling))


def in_cents(amount: Decimal) -> int:
    """How many whole cents, half a cent up."""
    return int(cents(amount) / CENT)


def _chains(needs: dict[str, PurchaseNeed]) -> list[Chain]:
    """Where the operation before is left out, a chain begins anew."""
    after = {need.follows: need.key for need in needs.values() if need.follows in needs}
    chains = []
    for key, need in needs.items():
        if need.follows not in needs:
            chain = [key]
            while chain[-1] in after:
                chain.append(after[chain[-1]])
            chains.append(tuple(chain))
    return chains


def _late(chains: list[Chain], choices: dict[str, list[OfferChoice]], days: int | None) -> Iterator[Trouble]:
    for chain in chains:
        soonest = sum(min(choice.days for choice in choices[key]) for key in chain)
        if days is not None and soonest > days:
            yield Trouble(TroubleReason.TOO_LATE, chain, soonest)


def cheapest_in_time(case: Case) -> Picks:
    """Each part by itself: the offers whose prices add up to least and that are there in time."""
    picks: Picks = {}
    for chain in case.chains:
        so_far: dict[int, tuple[int, Picks]] = {0: (0, {})}
        for key in chain:
            so_far = _longer(so_far, key, case.choices[key], case.days)
        picks |= min(so_far.values(), key=lambda part: part[0])[1]
    return picks


def _longer(
    so_far: dict[int, tuple[int, Picks]], key: str, choices: list[OfferChoice], days: int | None
) -> dict[int, tuple[int, Picks]]:
    """For each number of days spent so far, the least money, with one more operation."""
    longer: dict[int, tuple[int, Picks]] = {}
    for spent, (cost, picks) in so_far.items():
        for choice in choices:
            then, sum_ = spent + choice.days, cost + choice.cost
            if (days is None or then <= days) and (then not in longer or sum_ < longer[then][0]):
                longer[then] = sum_, {**picks, key: choice}
    return longer
