"""Quotes side by side. Sums are worked out by hand; the prices 48, 42 from 5 and 36 from 10 are our own."""

from datetime import date
from decimal import Decimal

import pytest

from projects.buying.domain.comparison import comparisons, sizes_of
from projects.record.models import Operation
from tests import cost_factories as costs
from tests import factories

pytestmark = pytest.mark.django_db
TODAY = date(2026, 5, 11)


@pytest.fixture
def part(workshop):
    return factories.PartFactory(design__workshop=workshop, name="wheel", quantity=3, mass=12)


@pytest.fixture
def casting(part):
    return costs.OperationFactory(part=part)


def batches_of(design, **how):
    [process] = comparisons(design, TODAY, **how)
    [comparison] = process.comparisons
    return comparison.batches


def test_each_size_is_asked_at_the_pieces_that_it_takes(part, casting):
    """3 machines of 3: ten cost 360 and nine 378, so ten are ordered; each of the nine needed bears 40."""
    factories.ProjectFactory(design=part.design)
    costs.QuoteFactory(operation=casting, setup="15", tooling="200")
    part.design.cost_terms = costs.projects.CostTerms.objects.create(
        design=part.design, workshop=part.workshop, sizes="1, 3"
    )
    one, three = batches_of(part.design)
    assert (one.needed, one.offers[0].cost.total) == (3, 3 * 48 + 15 + 200)
    cost = three.offers[0].cost
    assert (cost.needed, cost.ordered, cost.more_is_cheaper) == (9, 10, True)
    assert (cost.pieces, cost.setup, cost.tooling, cost.total) == (360, 15, 200, 575)
    assert cost.each == Decimal(575) / 9


def test_the_best_may_be_another_at_another_size(part, casting):
    """Without set-up 48 a piece, with a set-up of 100 only 30: 144 against 190 for 3, 2160 against 1900 for 60."""
    dear = costs.QuoteFactory(operation=casting, prices={1: "48"}, supplier__name="A")
    cheap = costs.QuoteFactory(operation=casting, prices={1: "30"}, setup="100", supplier__name="B")
    rows = batches_of(part.design)
    best = [[offer.priced.quote for offer in row.offers if offer.best] for row in rows]
    assert [row.machines for row in rows] == [1, 5, 10, 20]
    assert best == [[dear], [cheap], [cheap], [cheap]]


def test_equals_are_both_best_and_one_alone_is_not(part, casting):
    costs.QuoteFactory(operation=casting)
    assert not batches_of(part.design)[0].offers[0].best
    costs.QuoteFactory(operation=casting)
    assert [offer.best for offer in batches_of(part.design)[0].offers] == [True, True]


def test_what_does_not_stand_is_left_out_and_never_best(part, casting):
    stands = costs.QuoteFactory(operation=casting, supplier__name="A")
    costs.QuoteFactory(operation=casting, supplier__name="B", prices={1: "1"}, valid_until="2026-05-10")
    costs.QuoteFactory(operation=casting, supplier__name="C", prices={1: "1"}, withdrawn=True)
    costs.QuoteFactory(operation=casting, supplier__name="D", prices={1: "1"}, valid_from="2026-05-12")
    assert [offer.priced.quote for offer in batches_of(part.design)[0].offers] == [stands]
    shown = batches_of(part.design, everything=True)[0].offers
    assert [offer.priced.stands for offer in shown] == [True, False, False, False]
    assert not any(offer.best for offer in shown)


def test_the_last_day_still_counts(part, casting):
    costs.QuoteFactory(operation=casting, valid_until=TODAY, valid_from=TODAY)
    assert batches_of(part.design)[0].offers


def test_foreign_money_competes_in_ours_and_not_at_all_without_a_rate(part, casting, workshop):
    """10 EUR a piece at 0.85 is 8.50: dearer than 8, cheaper than it looks against 9."""
    costs.RateFactory(workshop=workshop)
    ours = costs.QuoteFactory(operation=casting, prices={1: "9"}, supplier__name="A")
    theirs = costs.QuoteFactory(operation=casting, prices={1: "10"}, supplier__name="B", supplier__currency="EUR")
    costs.QuoteFactory(operation=casting, prices={1: "1"}, supplier__name="C", supplier__currency="USD")
    offers = batches_of(part.design)[0].offers
    assert [offer.priced.quote for offer in offers if offer.best] == [theirs]
    assert offers[0].priced.quote == ours
    assert offers[2].cost is None
    assert offers[2].priced.no_rate == "USD"


def test_tooling_that_went_with_an_order_is_not_paid_again(part, casting, owner):
    quote = costs.QuoteFactory(operation=casting, tooling="200")
    order = costs.projects.Order.objects.create(
        workshop=part.workshop, supplier=quote.supplier, design=part.design, ordered_on=TODAY
    )
    order.lines.create(workshop=part.workshop, operation=casting, quantity=3, tooling="200")
    assert batches_of(part.design)[0].offers[0].cost.tooling == 0
    order.cancelled_on = TODAY
    order.save()
    assert batches_of(part.design)[0].offers[0].cost.tooling == 200


def test_the_sheet_adds_up_in_foreign_cents(part, casting, workshop):
    costs.RateFactory(workshop=workshop, rate="0.853333")
    costs.QuoteFactory(operation=casting, supplier__currency="EUR", setup="9.99", tooling="3.33", prices={1: "1.2345"})
    for row in batches_of(part.design):
        cost = row.offers[0].cost
        assert cost.total == cost.pieces + cost.setup + cost.tooling
        assert cost.total == cost.total.quantize(Decimal("0.01"))


def test_operations_stand_by_process_as_work_goes_on(part):
    for process in (Operation.Process.MACHINING, Operation.Process.PAINTING, Operation.Process.PATTERN):
        costs.OperationFactory(part=part, process=process)
    costs.OperationFactory(part=None, design=part.design, workshop=part.workshop, process="carriage")
    labels = [process.label for process in comparisons(part.design, TODAY)]
    assert labels == ["pattern and core box", "machining", "carriage"]


@pytest.mark.parametrize("typed", ["", "lots", "0", "-3", "1, 2, x"])
def test_sizes_that_are_none_are_the_usual_ones(part, typed):
    costs.projects.CostTerms.objects.create(design=part.design, workshop=part.workshop, sizes=typed)
    assert sizes_of(part.design) == [1, 5, 10, 20]


def test_a_page_of_quotes_takes_as_many_queries_for_ten_as_for_two(part, django_assert_max_num_queries):
    for _ in range(10):
        costs.QuoteFactory(operation=costs.OperationFactory(part=part))
    with django_assert_max_num_queries(12):
        [process] = comparisons(part.design, TODAY)
        rows = [row for comparison in process.quoted for row in comparison.batches]
        assert not any(offer.priced.outdated for row in rows for offer in row.offers)


def test_a_quote_of_an_earlier_revision_is_never_the_best(part, casting):
    """30 each for A, which B replaced; of 40 and 45 for B the first is best."""
    old, new = (costs.RevisionFactory(part=part, label=label) for label in "AB")
    for revision, price in ((old, "30"), (new, "40"), (new, "45")):
        costs.QuoteFactory(operation=casting, revision=revision, prices={1: price})
    for row in batches_of(part.design):
        assert [offer.cost.each for offer in row.offers if offer.best] == [40]


def test_one_pattern_serves_all_machines(part):
    """A pattern at 640 is 640 for one machine and for twenty, where twenty machines of three made sixty of it.

    Source: the handbook's batch costs, tools are paid for by a batch and not by a piece.
    """
    pattern = costs.OperationFactory(part=part, process="pattern")
    costs.QuoteFactory(operation=pattern, prices={1: "640"})
    rows = batches_of(part.design)
    assert [row.needed for row in rows] == [1, 1, 1, 1]
    assert [row.offers[0].cost.total for row in rows] == [640] * 4
