"""Quotes typed with their breaks, changed while nothing was ordered, and side by side."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from projects.record.models import Order, Quote
from tests import cost_factories as costs
from tests import factories
from tests.finishing.calculators.views.rough import rough_answers

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_a_day_in_may(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(datetime(2026, 5, 11, 9, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def part(workshop):
    return factories.PartFactory(design__workshop=workshop, name="wheel", quantity=3, mass=12)


@pytest.fixture
def casting(part):
    return costs.OperationFactory(part=part)


@pytest.fixture
def foundry(workshop):
    return costs.SupplierFactory(workshop=workshop, name="Vale Foundry")


def typed(foundry, *prices, **changes):
    """`prices`: (from, price) as typed, row by row."""
    rows = prices or (("1", "48"), ("5", "42"), ("10", "36,5"))
    boxes = {f"breaks-{at}-from_quantity": begins for at, (begins, _) in enumerate(rows)}
    boxes |= {f"breaks-{at}-price": price for at, (_, price) in enumerate(rows)}
    return {
        "supplier": str(foundry.pk), "revision": "", "number": "Q 17", "quoted_on": "2026-05-04", "valid_from": "",
        "valid_until": "2026-06-30", "lead_days": "", "counting": "all units", "price_by": "piece",
        "minimum_quantity": "1", "setup": "15", "tooling": "200", "remark": "",
        "breaks-TOTAL_FORMS": str(len(rows)), "breaks-INITIAL_FORMS": "0", **boxes, **changes,
    }  # fmt: skip


def page(client, name, *args, query=""):
    return " ".join(client.get(reverse(name, args=args) + query).content.decode().split())


def send(client, operation, sent):
    return client.post(reverse("quote-new", args=[operation.pk]), sent)


def test_a_quote_is_typed_with_its_breaks(restorer_client, casting, foundry):
    response = send(restorer_client, casting, typed(foundry))
    made = Quote.objects.get()
    assert response.url == reverse("quote", args=[made.pk])
    assert [(one.from_quantity, one.price) for one in made.breaks.all()] == [(1, 48), (5, 42), (10, Decimal("36.5"))]
    assert (made.setup, made.tooling, made.valid_until) == (15, 200, date(2026, 6, 30))


def test_the_same_form_twice_is_one_quote(restorer_client, casting, foundry):
    form = restorer_client.get(reverse("quote-new", args=[casting.pk])).context["form"]
    for _ in range(2):
        send(restorer_client, casting, typed(foundry, id=form["id"].value()))
    assert Quote.objects.count() == 1
    assert Quote.objects.get().breaks.count() == 3


@pytest.mark.parametrize(
    ("rows", "at", "box", "told"),
    [
        ((("5", "42"), ("1", "48")), 1, "from_quantity", "Out of order"),
        ((("1", "48"), ("1", "42")), 1, "from_quantity", "the two overlap"),
        ((("0", "48"),), 0, "from_quantity", "one piece or more"),
        ((("-1", "48"),), 0, "from_quantity", "one piece or more"),
        ((("1,5", "48"),), 0, "from_quantity", "whole number"),
        ((("", "48"),), 0, "from_quantity", "required"),
        ((("1", ""),), 0, "price", "required"),
        ((("1", "-3"),), 0, "price", "not below nothing"),
        ((("1", "cheap"),), 0, "price", "is not understood"),
        ((("1", "9" * 40),), 0, "price", "no more than"),
        ((("99999999999", "1"),), 0, "from_quantity", "less than or equal"),
    ],
)
def test_a_break_that_cannot_be_is_told_in_its_row(restorer_client, casting, foundry, rows, at, box, told):
    context = send(restorer_client, casting, typed(foundry, *rows)).context
    row = context["rows"].forms[at]
    assert told in str(row.errors[box])
    assert row[box].value() == dict(zip(("from_quantity", "price"), rows[at], strict=True))[box]
    assert context["form"].is_valid()
    assert not Quote.objects.exists()


def test_a_quote_without_a_price_is_told_at_the_rows(restorer_client, casting, foundry):
    answer = send(restorer_client, casting, typed(foundry, ("", "")))
    assert "Type at least one price" in answer.content.decode()
    assert not Quote.objects.exists()


@pytest.mark.parametrize(
    ("box", "wrong", "told"),
    [
        ("valid_until", "2026-05-03", "ends before it starts"),
        ("quoted_on", "2026-05-12", "still to come"),
        ("quoted_on", "2026-02-30", "valid date"),
        ("minimum_quantity", "0", "At least one"),
        ("minimum_quantity", "2000000", "Not so many"),
        ("lead_days", "9999999999", "Ten years are the most"),
        ("tooling", "-1", "not negative"),
        ("setup", "nan", "is not understood"),
        ("counting", "both", "Select a valid choice"),
        ("supplier", "", "required"),
        ("supplier", "00000000-0000-0000-0000-000000000000", "Select a valid choice"),
    ],
)
def test_what_cannot_be_is_told_at_its_box(restorer_client, casting, foundry, box, wrong, told):
    form = send(restorer_client, casting, typed(foundry, **{box: wrong})).context["form"]
    assert list(form.errors) == [box]
    assert told in str(form.errors[box])
    assert form[box].value() == wrong


def test_a_price_per_kg_wants_the_parts_weight(restorer_client, casting, foundry, part):
    part.mass = None
    part.save()
    form = send(restorer_client, casting, typed(foundry, price_by="kilogram")).context["form"]
    assert "no weight yet" in str(form.errors["price_by"])


def test_a_currency_without_a_rate_is_told_at_the_supplier(restorer_client, casting, workshop):
    abroad = costs.SupplierFactory(workshop=workshop, currency="USD")
    form = send(restorer_client, casting, typed(abroad)).context["form"]
    assert f"{reverse('rates')}?currency=USD" in str(form.errors["supplier"])


def test_their_letter_is_kept_under_its_name_and_not_above_twenty_megabytes(restorer_client, casting, foundry):
    letter = SimpleUploadedFile("their letter.pdf", b"%PDF-1.4 prices")
    send(restorer_client, casting, {**typed(foundry), "file": letter})
    quote = Quote.objects.get()
    assert (quote.file_name, quote.file.read()) == ("their letter.pdf", b"%PDF-1.4 prices")
    restorer_client.post(reverse("quote-edit", args=[quote.pk]), typed(foundry, number="Q 18"))
    quote.refresh_from_db()
    assert (quote.number, quote.file_name) == ("Q 18", "their letter.pdf")
    assert "their letter.pdf" in page(restorer_client, "quote", quote.pk)
    too_large = SimpleUploadedFile("scan.tif", b"0" * (20 * 1024**2 + 1))
    form = send(restorer_client, casting, {**typed(foundry), "file": too_large}).context["form"]
    assert "larger than 20 MB" in str(form.errors["file"])


def test_a_quote_is_changed_while_nothing_was_ordered_from_it(restorer_client, casting, foundry):
    quote = costs.QuoteFactory(operation=casting, supplier=foundry)
    shown = restorer_client.get(reverse("quote-edit", args=[quote.pk])).context["rows"]
    assert [row["price"].value() for row in shown.forms[:3]] == [48, 42, 36]
    restorer_client.post(reverse("quote-edit", args=[quote.pk]), typed(foundry, ("1", "50")))
    assert [one.price for one in quote.breaks.all()] == [50]


def test_one_that_was_ordered_from_stays_and_another_is_made_from_it(restorer_client, casting, foundry, workshop):
    quote = costs.QuoteFactory(operation=casting, supplier=foundry, setup="33")
    order = Order.objects.create(
        workshop=workshop, supplier=foundry, design=casting.design, ordered_on=date(2026, 5, 5)
    )
    order.lines.create(workshop=workshop, operation=casting, quote=quote, quantity=3)
    answer = restorer_client.post(reverse("quote-edit", args=[quote.pk]), typed(foundry, ("1", "50")))
    assert answer.url == f"{reverse('quote-new', args=[casting.pk])}?from={quote.pk}"
    assert quote.breaks.count() == 3
    begun = restorer_client.get(answer.url).context
    assert (begun["form"]["setup"].value(), begun["form"]["number"].value()) == (33, None)
    assert [row["price"].value() for row in begun["rows"].forms[:3]] == [48, 42, 36]


def test_withdrawn_it_is_left_out_until_asked_for_or_it_stands_again(restorer_client, casting, foundry):
    quote = costs.QuoteFactory(operation=casting, supplier=foundry)
    address, design = reverse("quote-withdraw", args=[quote.pk]), casting.design_id
    restorer_client.post(address)
    assert "Vale Foundry" not in page(restorer_client, "quotes", design)
    assert "1 that does not stand today is left out" in page(restorer_client, "quotes", design)
    shown = page(restorer_client, "quotes", design, query="?all=1")
    assert "Vale Foundry" in shown
    assert "withdrawn</span>" in shown
    restorer_client.post(address, {"again": "1"})
    assert "Vale Foundry" in page(restorer_client, "quotes", design)


def test_the_best_is_said_in_a_word_and_ten_are_advised_for_nine(restorer_client, casting, foundry, part):
    """9 wheels for 3 machines cost 378, ten 360; the other asks 400 for any."""
    costs.projects.CostTerms.objects.create(design=part.design, workshop=part.workshop, sizes="3")
    costs.QuoteFactory(operation=casting, supplier=foundry)
    costs.QuoteFactory(operation=casting, supplier__name="Upland Castings", prices={1: "44.4444"})
    shown = page(restorer_client, "quotes", part.design_id)
    assert '<span class="badge yes">best</span> <b>360.00</b>' in shown
    assert "order 10, not 9" in shown
    assert "GBP, without tax" in shown
    assert shown.count("best</span>") == 1


def test_a_quote_opens_how_each_sum_came_about(restorer_client, casting, foundry, part):
    quote = costs.QuoteFactory(operation=casting, supplier=foundry)
    shown = page(restorer_client, "quote", quote.pk)
    assert "what to order for 5 machines" in shown
    assert "set-up + Q" in shown


def test_a_design_without_routes_says_what_comes_first(restorer_client, workshop):
    design = factories.DesignFactory(workshop=workshop)
    assert "Nothing is to be bought yet" in page(restorer_client, "quotes", design.pk)


def test_what_the_finishing_side_works_out_has_no_quotes(restorer_client, part):
    painting = costs.OperationFactory(part=part, process="painting")
    assert restorer_client.get(reverse("quote-new", args=[painting.pk])).status_code == 404


def test_only_who_plans_sees_prices(helper_client, guest_client, casting, foundry):
    quote = costs.QuoteFactory(operation=casting, supplier=foundry)
    named = [("quotes", casting.design_id), ("quote", quote.pk), ("quote-edit", quote.pk), ("quote-new", casting.pk)]
    for client in (helper_client, guest_client):
        for name, pk in named:
            assert client.get(reverse(name, args=[pk])).status_code == 403


def test_another_workshops_supplier_and_quote_are_not_to_be_had(
    restorer_client, stranger_client, casting, other_workshop
):
    theirs = costs.SupplierFactory(workshop=other_workshop)
    form = send(restorer_client, casting, typed(theirs)).context["form"]
    assert list(form.errors) == ["supplier"]
    quote = costs.QuoteFactory(operation=casting)
    for name in ("quote", "quote-edit", "quote-withdraw"):
        assert stranger_client.post(reverse(name, args=[quote.pk])).status_code == 404


def test_rough_forms_are_no_error_of_ours(restorer_client, casting, foundry):
    usual = typed(foundry)
    for sent in rough_answers(usual, times=80, seed=7, usual=usual):
        assert send(restorer_client, casting, sent).status_code < 500
