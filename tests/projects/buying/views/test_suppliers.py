"""Suppliers and their terms; a currency is worth nothing until somebody says what it costs."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from projects.buying.domain.offers import rates_of
from projects.record.models import ExchangeRate, Supplier
from tests import cost_factories as costs
from tests import factories
from tests.finishing.calculators.views.rough import rough_answers
from tests.finishing.workshops.views.test_settings import settings_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_a_day_in_may():
    with time_machine.travel(datetime(2026, 5, 11, 9, tzinfo=UTC), tick=False):
        yield


def typed(**changes):
    return {
        "name": "Vale Foundry", "makes": "grey iron", "currency": "", "tax": "20", "delivery": "12,50",
        "minimum_order": "100", "lead_days": "21", "days_to_pay": "30", "contact": "1 Cupola Lane", "note": "",
        **changes,
    }  # fmt: skip


def page(client, name, *args):
    return " ".join(client.get(reverse(name, args=args)).content.decode().split())


def test_nobody_yet_says_whom_to_enter(restorer_client, workshop):
    assert "No supplier yet" in page(restorer_client, "suppliers")


def test_a_supplier_is_entered_with_terms(restorer_client, workshop):
    response = restorer_client.post(reverse("supplier-new"), typed())
    made = Supplier.objects.get()
    assert response.url == reverse("supplier", args=[made.pk])
    assert (made.delivery, made.minimum_order, made.lead_days, made.days_to_pay) == (Decimal("12.50"), 100, 21, 30)
    shown = page(restorer_client, "supplier", made.pk)
    assert "12.50 GBP" in shown
    assert "30 days after receipt" in shown


def test_the_same_form_twice_is_one_supplier(restorer_client, workshop):
    form = restorer_client.get(reverse("supplier-new")).context["form"]
    for _ in range(2):
        restorer_client.post(reverse("supplier-new"), typed(id=form["id"].value()))
    assert Supplier.objects.count() == 1


@pytest.mark.parametrize(
    ("box", "wrong", "told"),
    [
        ("name", "", "required"),
        ("currency", "pounds", "3 characters"),
        ("currency", "12$", "Three capital letters"),
        ("currency", "usd", "no exchange rate for USD"),
        ("tax", "200", "Between 0 and 100"),
        ("delivery", "-1", "not negative"),
        ("minimum_order", "a lot", "is not understood"),
        ("lead_days", "-3", "greater than or equal to 0"),
        ("lead_days", "3651", "Ten years are the most"),
        ("days_to_pay", "9999999999", "Ten years are the most"),
    ],
)
def test_what_cannot_be_is_told_at_its_box(restorer_client, workshop, box, wrong, told):
    form = restorer_client.post(reverse("supplier-new"), typed(**{box: wrong})).context["form"]
    assert list(form.errors) == [box]
    assert told in str(form.errors[box])
    assert form[box].value() == wrong
    assert not Supplier.objects.exists()


def test_a_name_is_there_once(restorer_client, workshop):
    costs.SupplierFactory(workshop=workshop, name="Vale Foundry")
    form = restorer_client.post(reverse("supplier-new"), typed()).context["form"]
    assert "There is one with this name" in str(form.errors["name"])


def test_a_currency_without_a_rate_shows_the_way_to_enter_it(restorer_client, workshop):
    answer = restorer_client.post(reverse("supplier-new"), typed(currency="usd"))
    assert f"href='{reverse('rates')}?currency=USD'" in answer.content.decode()
    restorer_client.post(reverse("rates"), {"currency": "usd", "rate": "0,79", "noted_on": "2026-05-11"})
    restorer_client.post(reverse("supplier-new"), typed(currency="usd"))
    assert Supplier.objects.get().money_in == "USD"


def test_our_own_currency_is_kept_as_ours(restorer_client, workshop):
    restorer_client.post(reverse("supplier-new"), typed(currency="gbp"))
    assert Supplier.objects.get().currency == ""


def test_prices_that_stand_keep_their_currency(restorer_client, workshop):
    costs.RateFactory(workshop=workshop)
    operation = costs.OperationFactory(part=factories.PartFactory(design__workshop=workshop))
    supplier = costs.QuoteFactory(operation=operation, supplier__name="Vale Foundry").supplier
    form = restorer_client.post(reverse("supplier-edit", args=[supplier.pk]), typed(currency="EUR")).context["form"]
    assert "stand in GBP; for another currency make a new supplier" in str(form.errors["currency"])


def test_one_no_longer_asked_stays_in_the_list(restorer_client, workshop):
    supplier = costs.SupplierFactory(workshop=workshop)
    restorer_client.post(reverse("supplier-edit", args=[supplier.pk]), typed(retired="on"))
    assert "no longer asked" in page(restorer_client, "suppliers")


def test_the_latest_rate_counts_and_a_mistyped_one_is_noted_again(restorer_client, workshop):
    for day, rate in (("2026-05-10", "8.6"), ("2026-05-10", "0.86"), ("2026-05-01", "0.85")):
        restorer_client.post(reverse("rates"), {"currency": "EUR", "rate": rate, "noted_on": day, "source": "bank"})
    assert [str(rate.rate) for rate in ExchangeRate.objects.all()] == ["0.850000", "0.860000"]
    shown = page(restorer_client, "rates")
    assert shown.index("0.86") < shown.index("counts</span>") < shown.index("0.85</td>") < shown.index("earlier")


def test_a_rate_of_an_earlier_day_does_not_count_and_is_told_so(restorer_client, workshop):
    costs.RateFactory(workshop=workshop, noted_on=date(2026, 5, 10))
    earlier = {"currency": "EUR", "rate": "0.5", "noted_on": "2026-05-01", "source": ""}
    told = restorer_client.post(reverse("rates"), earlier, follow=True).content.decode()
    assert "1 EUR = 0.5 GBP is noted; a later one counts." in told
    told = restorer_client.post(reverse("rates"), {**earlier, "noted_on": "2026-05-11"}, follow=True).content.decode()
    assert "1 EUR = 0.5 GBP is noted; it counts from now on." in told


def test_a_rate_noted_by_mistake_is_taken_out_and_the_one_before_counts(restorer_client, workshop):
    costs.RateFactory(workshop=workshop, noted_on=date(2026, 5, 1))
    wrong = costs.RateFactory(workshop=workshop, noted_on=date(2026, 5, 10), rate=Decimal("8.5"))
    restorer_client.post(reverse("rate-remove", args=[wrong.pk]))
    assert rates_of(workshop)["EUR"] == Decimal("0.85")


def test_only_who_plans_here_takes_a_rate_out(helper_client, stranger_client, workshop):
    address = reverse("rate-remove", args=[costs.RateFactory(workshop=workshop).pk])
    assert helper_client.post(address).status_code == 403
    assert stranger_client.post(address).status_code == 404
    assert ExchangeRate.objects.exists()


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (costs.RateFactory, "It stays GBP: exchange rates are kept in it"),
        (costs.QuoteFactory, "It stays GBP: quotes are kept in it"),
        (costs.OrderFactory, "It stays GBP: orders are kept in it"),
        (costs.ExpenseFactory, "It stays GBP: expenses are kept in it"),
        (costs.StagePaymentFactory, "It stays GBP: stage payments are kept in it"),
    ],
)
def test_a_workshop_keeps_its_currency_while_sums_stand_in_it(owner_client, workshop, row, told):
    row(workshop=workshop)
    form = owner_client.post(reverse("settings"), settings_of(workshop, currency="eur")).context["form"]
    assert told in str(form.errors["currency"])
    assert form["currency"].value() == "eur"
    workshop.refresh_from_db()
    assert workshop.currency == "GBP"
    assert owner_client.post(reverse("settings"), settings_of(workshop, currency="gbp")).status_code == 302


def test_without_sums_and_whatever_another_workshop_has_the_currency_may_change(owner_client, workshop, other_workshop):
    costs.RateFactory(workshop=other_workshop)
    assert owner_client.post(reverse("settings"), settings_of(workshop, currency="eur")).status_code == 302
    workshop.refresh_from_db()
    assert workshop.currency == "EUR"


@pytest.mark.parametrize(
    ("box", "wrong", "told"),
    [
        ("rate", "0", "above nothing"),
        ("rate", "-1", "above nothing"),
        ("rate", "9" * 30, "no more than"),
        ("rate", "200000", "Not so many"),
        ("rate", "NaN", "is not understood"),
        ("currency", "GBP", "own currency"),
        ("currency", "E", "Three capital letters"),
        ("noted_on", "2026-05-12", "still to come"),
    ],
)
def test_a_rate_that_cannot_be_is_told_at_its_box(restorer_client, workshop, box, wrong, told):
    sent = {"currency": "EUR", "rate": "0.85", "noted_on": "2026-05-11", "source": ""} | {box: wrong}
    form = restorer_client.post(reverse("rates"), sent).context["form"]
    assert list(form.errors) == [box]
    assert told in str(form.errors[box])
    assert not ExchangeRate.objects.exists()


def test_a_supplier_whose_money_has_no_price_is_marked(restorer_client, workshop):
    supplier = costs.SupplierFactory(workshop=workshop, currency="USD")
    assert "no rate" in page(restorer_client, "suppliers")
    assert "No exchange rate for USD" in page(restorer_client, "supplier", supplier.pk)
    assert "USD has no rate" in page(restorer_client, "rates")


def test_only_who_plans_sees_money(helper_client, guest_client, workshop):
    supplier = costs.SupplierFactory(workshop=workshop)
    for client in (helper_client, guest_client):
        for name, args in (("suppliers", []), ("rates", []), ("supplier", [supplier.pk]), ("supplier-new", [])):
            assert client.get(reverse(name, args=args)).status_code == 403


def test_another_workshops_supplier_is_nowhere(stranger_client, workshop):
    supplier = costs.SupplierFactory(workshop=workshop)
    for name in ("supplier", "supplier-edit"):
        assert stranger_client.post(reverse(name, args=[supplier.pk]), typed()).status_code == 404


def test_rough_forms_are_no_error_of_ours(restorer_client, workshop):
    for sent in rough_answers(typed(), times=60, seed=5, usual=typed()):
        assert restorer_client.post(reverse("supplier-new"), sent).status_code < 500
    rate = {"currency": "EUR", "rate": "0.85", "noted_on": "2026-05-11", "source": ""}
    for sent in rough_answers(rate, times=60, seed=6, usual=rate):
        assert restorer_client.post(reverse("rates"), sent).status_code < 500
