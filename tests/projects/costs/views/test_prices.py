"""The handbook's price, break-even and recovery through the page (trade handbook, section 8.2, examples 13 to 15)."""

from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from projects.record.models import CostTerms, Tool
from projects.record.models.cost_terms import CostRange
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_a_tuesday():
    with time_machine.travel(date(2026, 5, 12), tick=False):
        yield


@pytest.fixture
def set_(workshop):
    """A set that costs 262, by one operation."""
    return factories.PartFactory(design__workshop=workshop, name="set")


@pytest.fixture
def casting(set_):
    return cost_factories.OperationFactory(part=set_, each=Decimal(262))


def terms(part, **given):
    return CostTerms.objects.create(workshop=part.workshop, design=part.design, **given)


def page(client, part, name="price", **asked):
    response = client.get(reverse(name, args=[part.design.pk]), asked)
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def priced(client, part, **asked):
    return client.get(reverse("price", args=[part.design.pk]), asked).context["priced"]


@pytest.mark.parametrize(
    ("margin", "price", "mark_up"), [("20", "327.50", "25.00"), ("30", "374.29", "42.86"), ("40", "436.67", "66.67")]
)
def test_a_margin_is_told_with_its_mark_up(owner_client, set_, casting, margin, price, mark_up):
    shown = page(owner_client, set_, margin=margin)
    assert price in shown
    assert f'{mark_up} % <span class="small pale">of the cost' in shown


def test_a_mark_up_is_told_with_its_margin(owner_client, set_, casting):
    shown = page(owner_client, set_, mark_up="40")
    assert "366.80" in shown
    assert '28.57 % <span class="small pale">of the price' in shown


def test_tax_stands_apart(owner_client, set_, casting):
    terms(set_, tax=Decimal(20))
    shown = page(owner_client, set_)
    assert ">374.29<" in shown
    assert ">74.86<" in shown
    assert "<b>449.15</b>" in shown


def test_seventeen_sets_pay_for_development_and_tools(owner_client, set_, casting):
    cost_factories.ExpenseFactory(design=set_.design, amount=Decimal(1500))
    cost_factories.ToolFactory(operation=casting, cost=Decimal(900), state=Tool.State.WANTED)
    shown = page(owner_client, set_, price="410")
    assert '<p class="big">17</p>' in shown
    assert "fixed: development, all of it" in shown


def test_tools_that_bear_their_wear_still_have_to_be_paid(owner_client, set_, casting):
    cost_factories.ToolFactory(operation=casting, cost=Decimal(900), life=50, state=Tool.State.WANTED)
    terms(set_, spread_tools=True)
    assert priced(owner_client, set_, price="410").split.tools == 900


def test_a_price_below_what_each_adds_never_pays(owner_client, set_, casting):
    shown = page(owner_client, set_, price="262")
    assert "No number would do" in shown


def test_after_eight_of_twenty_six_hundred_came_back(owner_client, set_, casting):
    cost_factories.ExpenseFactory(design=set_.design, amount=Decimal(1500))
    paid = cost_factories.BuyerFactory(design=set_.design, count=7, agreed_price=Decimal(400))
    cost_factories.StagePaymentFactory(buyer=paid, amount=Decimal(2800), paid_on=date(2026, 5, 4))
    machine = factories.MachineFactory(project__design=set_.design)
    cost_factories.BuyerFactory(design=set_.design, machine=machine)
    cost_factories.BuyerFactory(design=set_.design, count=3, agreed_price=Decimal(400))  # nothing paid, no number
    shown = page(owner_client, set_)
    assert "Recovered by 8 sold" in shown
    assert ">600.00<" in shown
    assert "<b>900.00</b>" in shown


def test_it_begins_with_the_machines_of_the_open_project(owner_client, set_, casting):
    assert priced(owner_client, set_).machines == 5  # the second of the terms' sizes
    project = factories.ProjectFactory(design=set_.design)
    for number in range(3):
        factories.MachineFactory(project=project, number=str(number))
    assert priced(owner_client, set_).machines == 3


def test_nothing_of_a_what_if_is_kept(owner_client, set_, casting):
    page(owner_client, set_, machines="12", price="500")
    assert not CostTerms.objects.exists()


@pytest.mark.parametrize("box", ["machines", "margin", "mark_up", "price"])
@pytest.mark.parametrize("typed", ["-1", "a lot", "1e400", "NaN", "Infinity", "99999999999999"])
def test_what_cannot_be_says_so_and_stays_typed(owner_client, set_, casting, box, typed):
    shown = page(owner_client, set_, **{box: typed})
    assert f'value="{typed}"' in shown
    assert "errorlist" in shown
    assert "374.29" in shown


def test_a_price_comes_one_way(owner_client, set_, casting):
    shown = page(owner_client, set_, margin="20", mark_up="40")
    assert "fill in one of the three" in shown
    assert "327.50" in shown


def test_htmx_gets_the_figures_alone(owner_client, set_, casting):
    address = reverse("price", args=[set_.design.pk])
    shown = owner_client.get(address, {"margin": "20"}, headers={"HX-Request": "true"}).content.decode()
    assert shown.strip().startswith('<div id="priced">')


def test_a_design_without_routes_says_where_to_begin(owner_client, set_):
    assert reverse("routes", args=[set_.design.pk]) in page(owner_client, set_)


def test_the_lowest_cash_is_marked(owner_client, set_, casting):
    terms(set_, price=Decimal(410))
    shown = page(owner_client, set_, machines="2")
    assert '<b class="number">−524.00</b>' in shown
    assert '<circle class="lowest"' in shown


def test_cash_to_begin_with_is_asked_for_and_nothing_of_it_is_kept(owner_client, set_, casting):
    """Two at 410 lack 524 at the lowest; of 600 there are 76 left."""
    terms(set_, price=Decimal(410))
    shown = page(owner_client, set_, machines="2", opening_cash="600,00")
    assert '<b class="number">524.00</b> GBP at most' in shown
    assert '<b class="number">76.00</b> of 600.00 to begin with' in shown
    assert "is lacking" not in shown
    assert set_.design.cost_terms.opening_cash == 0


def test_cash_to_begin_with_is_kept_with_the_terms(owner_client, set_, casting):
    terms(set_, price=Decimal(410), opening_cash=Decimal("-100"))
    assert '<b class="number">−624.00</b> of −100.00 to begin with: so much is lacking' in page(
        owner_client, set_, machines="2"
    )
    moved = page(owner_client, set_, machines="2", opening_cash="0")
    assert '<b class="number">−524.00</b>' in moved


@pytest.mark.parametrize("typed", ["a lot", "1e400", "NaN", "Infinity", "99999999999999", "1.234", "\x00"])
def test_cash_that_cannot_be_is_told_at_its_box(owner_client, set_, casting, typed):
    terms(set_, price=Decimal(410))
    answer = owner_client.get(reverse("price", args=[set_.design.pk]), {"machines": "2", "opening_cash": typed})
    assert "opening_cash" in answer.context["form"].errors
    assert answer.context["form"]["opening_cash"].value() == typed
    assert '<b class="number">−524.00</b>' in answer.content.decode()


@pytest.mark.parametrize("box", ["opening_cash", "price"])
def test_a_sum_is_typed_with_its_sign_and_in_thousands(owner_client, set_, casting, box):
    answer = owner_client.get(reverse("price", args=[set_.design.pk]), {box: "£1,250.50"})
    assert answer.context["form"].cleaned_data[box] == Decimal("1250.50")


def test_sales_that_take_decades_are_told(owner_client, set_, casting):
    terms(set_, sold_a_month=Decimal("0.01"))
    assert "more than 20 years" in page(owner_client, set_)


# -- what moves the result


def test_more_starts_than_anybody_would_make_are_told(owner_client, set_, casting):
    casting.good_percent = Decimal("0.01")
    casting.save()
    assert "set: More than 100000 would have to be started" in page(owner_client, set_, machines="50")


def test_a_range_that_goes_too_far_costs_only_its_picture(owner_client, set_, casting):
    """Ten times the scrap of 10 % leaves none good; the price does not hang on that."""
    casting.good_percent = 90
    casting.save()
    CostRange.objects.create(
        workshop=set_.workshop, terms=terms(set_), input="scrap", low=Decimal(100), high=Decimal(1000)
    )
    shown = page(owner_client, set_, machines="50")
    assert "A range goes further than can be reckoned with. set: More than 100000" in shown
    assert "Price, without tax" in shown
    assert "Cash over time" in shown


def test_ranges_nobody_gave_are_our_judgement(owner_client, set_, casting):
    assert "these ranges are our judgement" in page(owner_client, set_)


def test_the_widest_swing_stands_first(owner_client, set_, casting):
    """By hand: 10 sets at 410. Sold 60 to 100 %: 4 · 410 = 1640; castings 90 to 120 %: 10 · 262 · 0.3 = 786."""
    row = terms(set_, price=Decimal(410))
    for name, low, high in (("casting", 90, 120), ("sold", 60, 100)):
        CostRange.objects.create(workshop=set_.workshop, terms=row, input=name, low=low, high=high)
    found = priced(owner_client, set_, machines="10")
    assert [(bar.name, bar.swing) for bar in found.bars] == [
        ("machines sold", Decimal(1640)),
        ("prices of castings", Decimal(786)),
    ]
    assert found.profit == 1480


def sent(*rows):
    data = {"ranges-TOTAL_FORMS": len(rows), "ranges-INITIAL_FORMS": 0}
    for at, row in enumerate(rows):
        data |= {f"ranges-{at}-{name}": value for name, value in zip(("input", "low", "high"), row, strict=True)}
    return data


def test_ranges_are_kept(owner_client, set_, casting):
    address = reverse("price-ranges", args=[set_.design.pk])
    assert owner_client.get(address).status_code == 200
    response = owner_client.post(address, sent(("casting", "92,5", "115"), ("", "90", "110")))
    assert response.status_code == 302
    kept = CostRange.objects.get()
    assert (kept.input, kept.low, kept.high, kept.terms.design) == ("casting", Decimal("92.5"), 115, set_.design)
    owner_client.post(address, sent(("scrap", "50", "150")))
    assert CostRange.objects.get().input == "scrap"


@pytest.mark.parametrize(
    ("row", "box", "told"),
    [
        (("casting", "101", "120"), "low", "holds what is reckoned with"),
        (("casting", "80", "99.5"), "high", "holds what is reckoned with"),
        (("casting", "120", "80"), "high", "ends below where it begins"),
        (("casting", "-5", "110"), "low", "Between 0 and 1000"),
        (("casting", "90", "1e400"), "high", ""),
        (("casting", "NaN", "110"), "low", "number"),
        (("gold", "90", "110"), "input", "valid choice"),
    ],
)
def test_a_range_that_cannot_be_is_told_at_its_box(owner_client, set_, casting, row, box, told):
    response = owner_client.post(reverse("price-ranges", args=[set_.design.pk]), sent(row))
    (first,) = response.context["rows"].filled
    assert told in " ".join(first.errors[box])
    assert not CostRange.objects.exists()


def test_an_input_has_one_range(owner_client, set_, casting):
    rows = sent(("casting", "90", "110"), ("casting", "80", "120"))
    response = owner_client.post(reverse("price-ranges", args=[set_.design.pk]), rows)
    assert "has a range already" in " ".join(response.context["rows"].filled[1].errors["input"])


@pytest.mark.parametrize("name", ["price", "price-ranges"])
def test_prices_are_for_those_who_plan_and_for_their_workshop_alone(
    helper_client, guest_client, stranger_client, set_, name
):
    address = reverse(name, args=[set_.design.pk])
    clients = (helper_client, guest_client, stranger_client)
    assert [client.get(address).status_code for client in clients] == [403, 403, 404]
