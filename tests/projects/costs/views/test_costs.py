"""The ladder's page shows the handbook's figures, and moves with a what-if; terms are kept as typed."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from projects.record.models import CostTerms, Tool
from projects.site.imports.tables import read_table
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


def test_each_design_tells_what_is_known_of_it(owner_client, frame, casting):
    """Two quotes for the casting, none for the drilling, a second part without a route."""
    cost_factories.OperationFactory(part=frame, process="machining", position=3)
    factories.PartFactory(design=frame.design, name="wheel")
    for name in ("near", "far"):
        cost_factories.QuoteFactory(operation=casting, supplier__name=name)
    factories.DesignFactory(workshop=frame.workshop, name="a bare one")
    shown = owner_client.get(reverse("costs")).content.decode()
    assert "2 parts, 2 operations, 2 quotes" in shown
    assert "0 parts, 0 operations, 0 quotes" in shown


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
    told = " ".join(page(owner_client, frame).split())
    assert "In a batch of 5 each machine finds a buyer who would pay what it costs." in told


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


def test_tools_by_wear_are_so_on_every_sheet(owner_client, frame, casting):
    """By hand: 820 / 50 + 95 / 5 + 58.50; an address that says how many machines asks for no what-if."""
    casting.tools.update(life=50)
    CostTerms.objects.create(workshop=frame.workshop, design=frame.design, spread_tools=True)
    sheet = owner_client.get(reverse("cost-sheet", args=[frame.design.pk]), {"machines": "5"}).context
    assert sheet["cost"].each == Decimal("93.90")
    lines = owner_client.get(reverse("lines-csv", args=[frame.design.pk]), {"machines": "5"}).content
    assert b"469.5" in lines
    unticked = owner_client.get(reverse("cost-sheet", args=[frame.design.pk]), {"machines": "5", "casting": ""})
    assert unticked.context["cost"].each == Decimal("241.50")


@pytest.mark.parametrize("name", ["cost-sheet", "costs-csv", "costs-xlsx"])
def test_a_what_if_goes_on_to_sheets_and_files(owner_client, frame, casting, name):
    asked = {"casting": "200", "tools": "", "spread_tools": "on"}
    for headers in ({}, {"HX-Request": "true"}):
        shown = owner_client.get(reverse("design-costs", args=[frame.design.pk]), asked, headers=headers)
        links = re.findall(f'href="({reverse(name, args=[frame.design.pk])}[^"]*)"', shown.content.decode())
        assert links
        assert all("casting=200" in link and "spread_tools=on" in link for link in links)
    sheet = owner_client.get(reverse("cost-sheet", args=[frame.design.pk]), {"machines": "5", **asked})
    assert sheet.context["cost"].each == Decimal("319.00")
    assert '<input type="hidden" name="casting" value="200">' in sheet.content.decode()
    assert "As if the inputs had moved" in sheet.content.decode()


MANY = "frame: More than 100000 would have to be started"


@pytest.mark.parametrize("name", ["design-costs", "cost-sheet"])
def test_more_starts_than_anybody_would_make_are_told(owner_client, frame, casting, name):
    casting.good_percent = 90
    casting.save()
    assert MANY in page(owner_client, frame, name, scrap="1000", machines="50")


@pytest.mark.parametrize("name", ["costs-csv", "lines-csv"])
def test_a_file_that_cannot_be_leads_to_the_page_that_says_why(owner_client, frame, casting, name):
    casting.good_percent = 90
    casting.save()
    address = reverse(name, args=[frame.design.pk])
    shown = owner_client.get(address, {"scrap": "1000", "machines": "50"}, follow=True)
    assert shown.status_code == 200
    assert MANY in shown.content.decode()


def test_more_pieces_than_hands_can_learn_from_are_told(owner_client, frame, casting):
    casting.learning, casting.each_minutes = 85, 5
    casting.save()
    frame.quantity = 40
    frame.save()
    assert "frame: learning: 40000 pieces" in page(owner_client, frame, "cost-sheet", machines="1000")


def test_starts_and_hours_open_their_workings(owner_client, frame, casting):
    """Of eight wanted at 90 % ten are started; at 85 % ten pieces take 7.1161 times the first [LEARNING-TABLE]."""
    casting.good_percent, casting.learning, casting.each_minutes = 90, 85, 60
    casting.save()
    shown = page(owner_client, frame, "cost-sheet", machines="8")
    assert "start 10" in shown
    assert "7.12 h" in shown
