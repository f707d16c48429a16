"""Made-up batches for the ordering plan: parts with a pattern, a casting and a machining, offered by every supplier."""

from decimal import Decimal
from random import Random

from projects.money.breaks import Break, PriceList
from projects.money.ordering import Offer, PurchaseNeed, SupplierTerms

FLOORS = (1, 5, 10, 25, 50)
PRICES = {"pattern": 220, "casting": 34, "machining": 46}  # of a middling part


def money(amount):
    return Decimal(f"{amount:.2f}")


def batch(parts, sets=10, suppliers=5, seed=1):
    """Needs, offers with five breaks each, suppliers; prices lie within a quarter of a part's own."""
    draw = Random(seed)
    sellers = [
        SupplierTerms(f"supplier {s + 1}", money(draw.uniform(25, 90)), money(draw.uniform(150, 600)))
        for s in range(suppliers)
    ]
    needs, offers = [], []
    for part in (f"part {number + 1}" for number in range(parts)):
        size, before = draw.lognormvariate(0, 0.7), None
        for process, price in PRICES.items():
            pieces = {"pattern": 1, "casting": sets + 1, "machining": sets}[process]
            need = PurchaseNeed(f"{part}, {process}", part, pieces, process, follows=before)
            needs.append(need)
            offers += [offer(need, seller, price * size, draw) for seller in sellers]
            before = need.key
    return needs, offers, sellers


def offer(need, seller, price, draw):
    first, falls = price * draw.uniform(0.75, 1.25), draw.uniform(0.02, 0.12)
    breaks = tuple(Break(floor, money(first * (1 - falls) ** step)) for step, floor in enumerate(FLOORS))
    prices = PriceList(breaks, setup=money(draw.uniform(0, 40)))
    return Offer(f"{need.key}, {seller.key}", need.key, seller.key, prices, draw.randint(5, 40))
