"""Routes: a part's operations in order, begun as usual, moved, removed, and what lacks."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from projects.record.models import Operation, Quote, Supplier
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db

Process = Operation.Process


@pytest.fixture
def design(workshop):
    return factories.DesignFactory(workshop=workshop, name="Bench drill")


@pytest.fixture
def column(design):
    return factories.PartFactory(design=design, name="Column", lettering="HOLLOWFIELD")


def typed(**more):
    figures = dict.fromkeys(("setup", "each", "per_kilogram", "setup_minutes", "each_minutes", "lead_days"), "0")
    return {"id": str(uuid.uuid4()), "name": "", "good_percent": "100", **figures, **more}


def add(client, part, process="casting", **more):
    address = reverse("operation-new", args=[part.design_id])
    return client.post(f"{address}?process={process}&part={part.pk}", typed(**more))


def processes(part):
    return list(part.operations.order_by("position").values_list("process", flat=True))


def page_of(client, name, row):
    return client.get(reverse(name, args=[row.pk])).content.decode()


def test_a_casting_begins_with_the_usual_route_once(restorer_client, column):
    assert "Begin with the usual route" in page_of(restorer_client, "route", column)
    for _ in range(2):
        restorer_client.post(reverse("route-usual", args=[column.pk]))
    assert processes(column) == [
        "pattern", "casting", "fettling", "machining", "blasting", "painting", "lettering",
    ]  # fmt: skip


def test_what_is_cut_from_bar_begins_as_bought_in(restorer_client, design):
    spindle = factories.PartFactory(design=design, material="steel")
    restorer_client.post(reverse("route-usual", args=[spindle.pk]))
    assert processes(spindle) == ["bought in", "machining", "blasting", "painting"]


def test_the_parts_stand_with_their_route_in_one_line_and_what_lacks(restorer_client, design, column):
    for process in (Process.CASTING, Process.PAINTING):
        cost_factories.OperationFactory(part=column, process=process, position=process == Process.PAINTING)
    factories.PartFactory(design=design, name="Arm")
    page = page_of(restorer_client, "routes", design)
    assert page.index("Arm") < page.index("Column")
    assert "casting → painting" in page
    for gap in ("no route", "no coating system", "letters, and no lettering", "no figure or quote for casting"):
        assert gap in page


def test_an_operation_is_added_at_the_end_with_its_figures(restorer_client, column):
    add(restorer_client, column)
    response = add(
        restorer_client, column, process="machining", name="bore and face", setup="120,50", each="18.2575",
        setup_minutes="1 h", each_minutes="25", learning="85", good_percent="97,5", lead_days="14",
    )  # fmt: skip
    assert response.url == reverse("route", args=[column.pk])
    row = column.operations.get(process="machining")
    assert (row.setup, row.each, row.good_percent) == (Decimal("120.50"), Decimal("18.2575"), Decimal("97.5"))
    assert row.setup_minutes.to("minute").magnitude == 60
    assert processes(column) == ["casting", "machining"]
    page = page_of(restorer_client, "route", column)
    for words in ("bore and face", "120.50", "18.2575", "25 min", "97.5", "14 days"):
        assert words in page


def test_the_same_form_sent_twice_is_one_operation(restorer_client, column):
    one = str(uuid.uuid4())
    for _ in range(2):
        add(restorer_client, column, id=one)
    assert column.operations.count() == 1


def test_operations_are_moved_up_and_down_and_stop_at_the_ends(restorer_client, column):
    restorer_client.post(reverse("route-usual", args=[column.pk]))
    first, second, *_ = column.operations.order_by("position")
    for row, way in ((second, "up"), (second, "up"), (first, "down"), (first, "down")):
        restorer_client.post(reverse("operation-move", args=[row.pk]), {way: "1"})
    assert processes(column)[:4] == ["casting", "fettling", "machining", "pattern"]


@pytest.mark.parametrize("process", Operation.FINISHING)
def test_finishing_asks_for_no_figures_and_says_where_they_come_from(restorer_client, column, process):
    address = f"{reverse('operation-new', args=[column.design_id])}?process={process}&part={column.pk}"
    page = restorer_client.get(address).content.decode()
    assert "comes from the painted area" in page
    assert reverse("part-edit", args=[column.pk]) in page
    for name in ("setup", "each", "per_kilogram", "each_minutes", "good_percent", "keep_with"):
        assert f'name="{name}"' not in page
    restorer_client.post(address, {"id": str(uuid.uuid4()), "name": "", "each": "99"})
    assert column.operations.get().each == 0


def test_without_a_process_it_is_asked(restorer_client, column):
    page = restorer_client.get(reverse("operation-new", args=[column.design_id])).content.decode()
    assert "What is it?" in page
    assert "process=heat%20treatment" in page


@pytest.mark.parametrize("asked", ["process=witchcraft", "part=nonsense", "part=%00&process=casting"])
def test_what_no_operation_can_be_is_not_there(restorer_client, column, asked):
    assert restorer_client.get(f"{reverse('operation-new', args=[column.design_id])}?{asked}").status_code == 404


def test_another_designs_part_is_not_there(restorer_client, column):
    other = factories.PartFactory(design__workshop=column.workshop)
    address = reverse("operation-new", args=[column.design_id])
    assert restorer_client.get(f"{address}?process=casting&part={other.pk}").status_code == 404


@pytest.mark.parametrize(
    ("box", "value", "words"),
    [
        ("each", "-1", "not negative"),
        ("each", "cheap", "is not understood"),
        ("each", "1e999", "is not understood"),
        ("each", "NaN", "is not understood"),
        ("setup", "1.234", "no more than 2 decimal places"),
        ("good_percent", "0", "Between 0.01 and 100"),
        ("good_percent", "101", "Between 0.01 and 100"),
        ("good_percent", "", "required"),
        ("learning", "40", "Between 50 and 100"),
        ("each_minutes", "-5", "Must lie between"),
        ("each_minutes", "3 kg", "measures something else"),
        ("lead_days", "-1", "greater than or equal to 0"),
        ("lead_days", "99999999999", "Ten years"),
        ("name", "x" * 101, "at most 100 characters"),
    ],
)
def test_what_cannot_be_is_told_at_the_field_and_stays_typed(restorer_client, column, box, value, words):
    response = add(restorer_client, column, **{box: value})
    page = response.content.decode()
    assert response.status_code == 200
    assert words in page
    assert value in page
    assert not column.operations.exists()


def test_a_companion_that_is_not_there_is_told(restorer_client, column):
    assert "valid choice" in add(restorer_client, column, keep_with=str(uuid.uuid4())).content.decode()


def test_a_price_by_weight_wants_a_weight(restorer_client, design):
    bracket = factories.PartFactory(design=design, mass=None)
    assert "no weight yet" in add(restorer_client, bracket, per_kilogram="3").content.decode()


def test_only_operations_of_the_design_are_offered_as_companions(restorer_client, column):
    own = cost_factories.OperationFactory(part=column)
    painting = cost_factories.OperationFactory(part=column, process=Process.PAINTING)
    other = cost_factories.OperationFactory(part__design__workshop=column.workshop)
    address = f"{reverse('operation-new', args=[column.design_id])}?process=machining&part={column.pk}"
    page = restorer_client.get(address).content.decode()
    assert str(own.pk) in page
    assert str(painting.pk) not in page
    assert str(other.pk) not in page
    assert str(own.pk) not in page_of(restorer_client, "operation", own)  # itself is no companion


def test_an_operation_nothing_hangs_on_goes(restorer_client, column):
    row = cost_factories.OperationFactory(part=column)
    restorer_client.post(reverse("operation-remove", args=[row.pk]))
    assert not column.operations.exists()


def test_quotes_and_patterns_hold_an_operation_and_are_named(restorer_client, column):
    row = cost_factories.OperationFactory(part=column)
    cost_factories.ToolFactory(operation=row)
    supplier = Supplier.objects.create(workshop=column.workshop, name="Hill Foundry")
    Quote.objects.create(workshop=column.workshop, supplier=supplier, operation=row, quoted_on="2026-05-12")
    response = restorer_client.post(reverse("operation-remove", args=[row.pk]), follow=True)
    assert "Casting stays: 1 quote and 1 pattern or jig hang on it." in response.content.decode()
    restorer_client.post(reverse("part-remove", args=[column.pk]))
    assert column.operations.exists()


def test_the_machine_as_a_whole_has_a_route_of_its_own(restorer_client, design):
    address = reverse("operation-new", args=[design.pk])
    page = restorer_client.get(f"{address}?process=assembly").content.decode()
    assert 'name="per_kilogram"' not in page
    response = restorer_client.post(f"{address}?process=assembly", typed(each_minutes="6 h"))
    assert response.url == reverse("machine-route", args=[design.pk])
    assert "360 min" in restorer_client.get(response.url).content.decode()


def test_many_parts_take_a_fixed_number_of_queries(restorer_client, design, django_assert_max_num_queries):
    for _ in range(8):
        cost_factories.OperationFactory(part=cost_factories.RevisionFactory(part__design=design).part)
    with django_assert_max_num_queries(20):
        page_of(restorer_client, "routes", design)


@pytest.mark.parametrize("name", ["route", "routes", "machine-route", "operation", "operation-new"])
def test_another_workshops_rows_are_not_there(stranger_client, column, name):
    row = cost_factories.OperationFactory(part=column)
    key = {"route": column.pk, "operation": row.pk}.get(name, column.design_id)
    assert stranger_client.get(reverse(name, args=[key])).status_code == 404


def test_a_helper_sees_no_costs(helper_client, column):
    assert helper_client.get(reverse("routes", args=[column.design_id])).status_code == 403
    assert "How it is made" not in page_of(helper_client, "part", column)
