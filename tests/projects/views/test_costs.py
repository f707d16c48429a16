"""The ladder's page shows the handbook's figures, and moves with a what-if; terms are kept as typed."""

from decimal import Decimal

import pytest
from django.urls import reverse

from projects.imports.tables import read_table
from projects.models import CostTerms, Tool
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def frame(workshop):
    return factories.PartFactory(design__workshop=workshop, name="frame", mass=12.5)


@pytest.fixture
def casting(frame):
    """The handbook's: 820 of tools, 95 of set-up, 58.50 each."""
    row = cost_factories.OperationFactory(
        part=frame, setup=Decimal(95), each=Decimal(6), per_kilogram=Decimal("4.20"), position=2
    )
    cost_factories.ToolFactory(operation=row, cost=Decimal(820), state=Tool.State.WANTED)
    return row


def page(client, frame, name="design-costs", **asked):
    response = client.get(reverse(name, args=[frame.design.pk]), asked)
    assert response.status_code == 200
    return response.content.decode()


@pytest.mark.parametrize("cost", ["973.50", "241.50", "104.25"])
def test_the_table_has_the_one_off_and_the_batches(owner_client, frame, casting, cost):
    assert cost in page(owner_client, frame)


def test_a_what_if_moves_the_ladder_and_keeps_nothing(owner_client, frame, casting):
    assert "319.00" in page(owner_client, frame, casting="200")
    assert "319.00" not in page(owner_client, frame)
    assert not CostTerms.objects.exists()


@pytest.mark.parametrize("typed", ["-1", "a lot", "99999", "1e400", "NaN"])
def test_a_what_if_that_cannot_be_says_so_and_stays_typed(owner_client, frame, casting, typed):
    shown = page(owner_client, frame, casting=typed)
    assert f'value="{typed}"' in shown
    assert "errorlist" in shown
    assert "241.50" in shown


def test_htmx_gets_the_ladder_alone(owner_client, frame, casting):
    address = reverse("design-costs", args=[frame.design.pk])
    shown = owner_client.get(address, {"casting": "200"}, headers={"HX-Request": "true"}).content.decode()
    assert shown.strip().startswith('<div id="ladder">')


def test_more_for_less_is_found_by_itself(owner_client, frame, casting):
    cost_factories.QuoteFactory(operation=casting, prices={1: "48", 5: "42", 10: "36"})
    shown = page(owner_client, frame)
    assert "1 order in which more pieces cost less" in shown
    assert "<b>10</b>" in shown
    assert "18.00" in shown


def test_it_is_read_against_firm_buyers(owner_client, frame, casting):
    for bears in ("300", "290", "280", "270", "260"):
        frame.design.buyers.create(
            workshop=frame.workshop, name=f"buyer {bears}", standing="firm", enquired_on="2026-05-01",
            would_bear=Decimal(bears),
        )  # fmt: skip
    assert "5 machines firmly wanted" in page(owner_client, frame)
    assert "would each bear the cost at 5." in " ".join(page(owner_client, frame).split())


def test_a_design_without_routes_says_where_to_begin(owner_client, frame):
    assert reverse("routes", args=[frame.design.pk]) in page(owner_client, frame)


def test_what_is_not_known_is_named(owner_client, frame, casting):
    factories.PartFactory(design=frame.design, name="wheel")
    assert "1 thing left out" in page(owner_client, frame)


@pytest.mark.parametrize(
    ("name", "asked", "each"), [("costs-csv", {}, "241.5"), ("costs-xlsx", {"casting": "200"}, "319")]
)
def test_the_table_leaves_as_a_file(owner_client, frame, casting, name, asked, each):
    response = owner_client.get(reverse(name, args=[frame.design.pk]), asked)
    table = read_table(response.content)
    (machine,) = (row for row in table.rows if "one machine" in str(row.cells))
    assert each in str(machine.cells)


def test_every_column_of_the_table_adds_up_on_the_page_and_in_the_file(owner_client, frame):
    """By hand: seven parts at 10.01 / 5 + 1 = 3.002 each are 21.01 for one of five machines, not 7 · 3.00."""
    for number in range(7):
        part = factories.PartFactory(design=frame.design, name=f"pin {number}")
        cost_factories.OperationFactory(part=part, setup=Decimal("10.01"), each=Decimal(1))
    sheet = owner_client.get(reverse("design-costs", args=[frame.design.pk])).context["sheet"]
    assert sheet.table[1].each == Decimal("21.01")
    for at, cost in enumerate((sheet.one_off, *sheet.table)):
        assert sum(amounts[at] for _, amounts in sheet.rows) == cost.each
    table = read_table(owner_client.get(reverse("costs-csv", args=[frame.design.pk])).content)
    fives = [Decimal(str(list(row.cells.values())[3])) for row in table.rows]
    assert sum(fives[:-2]) == fives[-2] == Decimal("21.01")


def test_a_design_of_which_nothing_is_known_has_no_file(owner_client, frame):
    assert owner_client.get(reverse("costs-csv", args=[frame.design.pk])).status_code == 302


@pytest.mark.parametrize(("asked", "starts"), [("8", "8 good wanted, 10 started"), ("x", "1 good wanted")])
def test_a_sheet_of_a_batch_tells_every_line(owner_client, frame, casting, asked, starts):
    casting.good_percent = 90 if asked == "8" else 100
    casting.save()
    assert starts in page(owner_client, frame, "cost-sheet", machines=asked)


def test_terms_are_kept(owner_client, frame):
    address = reverse("cost-terms", args=[frame.design.pk])
    form = owner_client.get(address).context["form"]
    typed = {name: "" if form[name].value() is None else form[name].value() for name in form.fields}
    response = owner_client.post(address, typed | {"wage": "31,50", "sizes": "1, 8"})
    assert response.status_code == 302, response.context["form"].errors
    terms = CostTerms.objects.get()
    assert (terms.wage, terms.sizes, terms.design) == (Decimal("31.50"), "1, 8", frame.design)


@pytest.mark.parametrize(
    ("box", "typed", "told"),
    [
        ("margin", "100", "lies below 100"),
        ("sizes", "1, many", "is not a number of machines"),
        ("chance", "100", "Between 50 and 99.9"),
        ("recover_over", "0", "At least one"),
        ("wage", "-3", "not negative"),
    ],
)
def test_terms_that_cannot_be_are_told_at_their_box(owner_client, frame, box, typed, told):
    address = reverse("cost-terms", args=[frame.design.pk])
    form = owner_client.get(address).context["form"]
    sent = {name: "" if form[name].value() is None else form[name].value() for name in form.fields} | {box: typed}
    form = owner_client.post(address, sent).context["form"]
    assert told in " ".join(form.errors[box])


@pytest.mark.parametrize("name", ["design-costs", "cost-terms", "cost-sheet", "costs-csv", "costs-xlsx"])
def test_money_is_for_those_who_plan_and_for_their_workshop_alone(
    helper_client, guest_client, stranger_client, frame, name
):
    address = reverse(name, args=[frame.design.pk])
    assert [client.get(address).status_code for client in (helper_client, guest_client, stranger_client)] == [
        403,
        403,
        404,
    ]


@pytest.mark.parametrize("name", ["lines-csv", "lines-xlsx"])
def test_the_sheet_of_a_batch_leaves_line_by_line(owner_client, stranger_client, frame, casting, name):
    """By hand: 820 of tools, 95 of set-up, five at 58.50."""
    address = reverse(name, args=[frame.design.pk])
    table = read_table(owner_client.get(address, {"machines": "5"}).content)
    cells = [[str(cell) for cell in row.cells.values()] for row in table.rows]
    assert "292.5" in " ".join(cells[0])
    assert "1207.5" in " ".join(cells[-1])
    assert owner_client.get(address, {"machines": "1e400"}).status_code == 200
    assert stranger_client.get(address).status_code == 404
