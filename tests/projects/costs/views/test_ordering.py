"""The ordering plan on its page, and the orders made from it: as shown, once, or not at all."""

import re
from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from projects.record.models import Operation, Order, Part, Supplier
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db

Process = Operation.Process
MANY = 9


@pytest.fixture(autouse=True)
def _today():
    with time_machine.travel("2026-05-12 09:00Z", tick=False):
        yield


@pytest.fixture
def frame(workshop):
    return Part.objects.get(pk=factories.PartFactory(design__workshop=workshop, name="frame").pk)


@pytest.fixture
def casting(frame):
    """48 from 1, 42 from 5, 36 from 10; 35 to bring it, 300 at least, in forty days."""
    supplier = cost.SupplierFactory(
        workshop=frame.workshop, name="Hollow Foundry", delivery=Decimal(35), minimum_order=Decimal(300), lead_days=40
    )
    row = cost.OperationFactory(part=frame, position=1)
    cost.QuoteFactory(operation=row, supplier=supplier)
    return row


@pytest.fixture
def machining(frame):
    supplier = cost.SupplierFactory(
        workshop=frame.workshop, name="Vale Turning", delivery=Decimal(15), lead_days=20, tax=Decimal(20)
    )
    row = cost.OperationFactory(part=frame, process=Process.MACHINING, position=2)
    cost.QuoteFactory(operation=row, supplier=supplier, prices={1: "20"})
    return row


@pytest.fixture
def proved(frame):
    """A frame with a piece in a machine that passed its check."""
    revision = cost.RevisionFactory(part=frame)
    check = cost.CheckFactory(part=frame)
    machine = factories.MachineFactory(project__design=frame.design)
    piece = factories.PieceFactory(part=frame, project=machine.project, revision=revision)
    cost.FittingFactory(machine=machine, piece=piece, position=1)
    cost.TrialFactory(machine=machine, check_done=check, revision=revision)
    return revision


def at(frame, name="ordering"):
    return reverse(name, args=[frame.design_id])


def get(client, frame, **asked):
    answer = client.get(at(frame), {"machines": MANY, **asked})
    assert answer.status_code == 200
    return answer


def words(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def sent(answer, **typed):
    """The form that makes the orders, as a browser sends it."""
    page = answer.content.decode().split('action="' + at_order(answer))[1]
    hidden = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page)
    boxes: dict[str, list[str]] = {}
    for name, value in hidden:
        boxes.setdefault(name, []).append(value)
    return boxes | typed


def at_order(answer):
    return reverse("ordering-order", args=[answer.context["design"].pk])


def test_it_shows_the_sum_the_orders_the_day_and_that_it_is_proven(owner_client, frame, casting, machining):
    shown = words(get(owner_client, frame))
    assert "590.00 GBP without tax, for 9 machines. Proven: no other choice costs less." in shown
    assert "Hollow Foundry to Vale Turning 395.00" in shown
    assert "Vale Turning to us 195.00" in shown
    assert "All there on Sat 11 Jul 2026 , in 60 days." in shown


def test_it_says_what_it_saves_with_the_working(owner_client, frame, casting, machining):
    """Cheapest by itself, each part's brackets come from Far; together with the frames they ride for nothing."""
    far = cost.SupplierFactory(workshop=frame.workshop, name="Far Foundry", delivery=Decimal(60))
    bracket = cost.OperationFactory(part=factories.PartFactory(design=frame.design, name="bracket"))
    cost.QuoteFactory(operation=bracket, supplier=far, prices={1: "9"})
    cost.QuoteFactory(operation=bracket, supplier=casting.quotes.get().supplier, prices={1: "10"})
    # 9 · 9 + 60 by itself; 9 · 10 + 35 at the foundry, whose delivery to us is one more
    shown = words(get(owner_client, frame))
    assert "715.00 GBP" in shown
    assert "saved against part by part: 16.00 GBP" in shown
    assert "part by part 731.00 GBP" in shown
    assert "saved against one supplier for each process: 0.00 GBP" in shown


def test_the_usual_question_needs_no_typing(owner_client, frame, casting):
    answer = owner_client.get(at(frame))
    assert answer.context["ordering"].wanted.machines == 5


@pytest.mark.parametrize(
    ("box", "typed"),
    [
        ("machines", "0"), ("machines", "-3"), ("machines", "many"), ("machines", "9" * 30), ("machines", ""),
        ("spares", "1.5"), ("spares", "-1"), ("by", "yesterday"), ("by", "2026-05-11"), ("by", "\x00"),
    ],
)  # fmt: skip
def test_a_question_that_cannot_be_is_told_at_its_box_and_stays_typed(owner_client, frame, casting, box, typed):
    answer = get(owner_client, frame, **{box: typed})
    assert box in answer.context["form"].errors
    assert answer.context["form"][box].value() == typed
    assert "planned" not in answer.context


def test_more_starts_than_anybody_would_make_are_told(owner_client, frame, casting):
    Operation.objects.filter(pk=casting.pk).update(good_percent=Decimal("0.01"))
    assert "look at the scrap rate" in words(get(owner_client, frame, machines=1000))


def test_each_trouble_leads_to_where_it_is_mended(owner_client, frame, casting, machining):
    lost = cost.OperationFactory(part=factories.PartFactory(design=frame.design, name="lever"))
    bare = factories.PartFactory(design=frame.design, name="wheel")
    Operation.objects.filter(pk=machining.pk).update(keep_with=casting)
    answer = get(owner_client, frame, by="2026-07-11")
    addresses = {one.what: one.address for one in answer.context["troubles"]}
    assert addresses == {
        "wheel": reverse("route", args=[bare.pk]),
        str(lost): reverse("quote-new", args=[lost.pk]),
        f"{machining}, {casting}": reverse("operation", args=[machining.pk]),
    }


def test_what_comes_too_late_is_offered_for_the_soonest_day(owner_client, frame, casting, machining):
    answer = get(owner_client, frame, by="2026-06-30")
    (late,) = answer.context["troubles"]
    assert "60 days one after another" in late.why
    assert words(owner_client.get(late.address)).count("590.00") > 0


def test_a_quote_without_a_rate_leads_to_the_rates(owner_client, frame, casting):
    Supplier.objects.update(currency="EUR")
    last = get(owner_client, frame).context["troubles"][-1]
    assert last.address == reverse("rates") + "?currency=EUR"


def test_every_number_opens_its_working(owner_client, frame, casting, machining):
    shown = words(get(owner_client, frame))
    for told in (
        "how many come to frame: casting: 9",
        "order 9 378.00 GBP", "order 10 360.00 GBP",
        "frame: casting: order 10: 360.00 GBP",
        "order to Hollow Foundry: 395.00 GBP",
        "all there: 11 Jul 2026",
        "how far from the best it may be: 0.00 %",
    ):  # fmt: skip
        assert told in shown


def test_what_is_not_proved_is_named_and_asks_why(owner_client, frame, casting, machining):
    answer = get(owner_client, frame)
    assert "Not settled yet frame: no revision." in words(answer)
    answer = owner_client.post(at(frame, "ordering-order"), sent(answer))
    assert not Order.objects.exists()
    assert list(answer.context["making"].errors) == ["reason"]
    made = owner_client.post(at(frame, "ordering-order"), sent(answer, reason="the buyer waits"))
    assert made.url == reverse("orders", args=[frame.design_id])
    assert {line.reason for order in Order.objects.all() for line in order.lines.all()} == {"the buyer waits"}


def test_the_orders_are_as_shown_and_add_up_to_the_plan(owner_client, frame, casting, machining, proved):
    answer = get(owner_client, frame)
    project = frame.design.projects.get()
    owner_client.post(at(frame, "ordering-order"), sent(answer, project=str(project.pk)))
    cast, turned = Order.objects.in_full().order_by("supplier__name")
    assert (cast.goes_to, cast.promised_on) == (turned.supplier, date(2026, 6, 21))
    assert (turned.goes_to, turned.promised_on, turned.tax) == (None, date(2026, 7, 11), 20)
    line = cast.lines.get()
    assert (line.quantity, line.pieces_cost, line.revision, line.quote) == (10, 360, proved, casting.quotes.get())
    assert cast.cost + turned.cost == Decimal(590)
    assert {cast.project, turned.project} == {project}


def test_sent_twice_it_makes_one_set(owner_client, frame, casting, machining, proved):
    casting.quotes.update(tooling=Decimal(100))  # paid with the first set: the sums of a second would be others
    form = sent(get(owner_client, frame))
    for _ in range(2):
        answer = owner_client.post(at(frame, "ordering-order"), form)
        assert answer.url == reverse("orders", args=[frame.design_id])
    assert Order.objects.count() == 2


def test_two_places_make_two_orders_and_one_charge_up_to_the_least(owner_client, frame, casting, machining, proved):
    foundry = casting.quotes.get().supplier
    bracket = cost.OperationFactory(part=factories.PartFactory(design=frame.design, name="bracket"))
    cost.QuoteFactory(operation=bracket, supplier=foundry, prices={1: "10"})
    answer = get(owner_client, frame, machines=1)
    owner_client.post(at(frame, "ordering-order"), sent(answer))
    orders = Order.objects.in_full()
    assert sorted(order.minimum_charge for order in orders if order.supplier == foundry) == [0, 300 - 48 - 10]
    assert sum(order.cost for order in orders) == answer.context["plan"].total == 300 + 2 * 35 + 20 + 15


@pytest.mark.parametrize("change", ["price", "withdrawn", "delivery", "another need", "a day less"])
def test_what_changed_since_is_shown_anew_and_nothing_is_ordered(
    owner_client, frame, casting, machining, proved, change
):
    form = sent(get(owner_client, frame, by="2026-07-11"))
    if change == "price":
        casting.quotes.get().breaks.filter(from_quantity=10).update(price=37)
    elif change == "withdrawn":
        casting.quotes.update(withdrawn=True)
    elif change == "delivery":
        Supplier.objects.update(delivery=1)
    elif change == "another need":
        cost.QuoteFactory(operation=cost.OperationFactory(part=frame, process=Process.HEAT_TREATMENT, position=3))
    with time_machine.travel("2026-05-13 09:00Z" if change == "a day less" else "2026-05-12 09:00Z", tick=False):
        answer = owner_client.post(at(frame, "ordering-order"), form)
    assert "Nothing was ordered." in words(answer)
    assert not Order.objects.exists()


def test_where_too_many_would_be_started_by_now_nothing_is_ordered(owner_client, frame, casting, proved):
    form = sent(get(owner_client, frame))
    Operation.objects.update(good_percent=Decimal("0.01"))
    Part.objects.update(quantity=50)
    answer = owner_client.post(at(frame, "ordering-order"), form)
    assert "Nothing was ordered." in words(answer)
    assert "More than 100000 would have to be started" in words(answer)
    assert not Order.objects.exists()


@pytest.mark.parametrize(
    "spoilt",
    [
        {"line": ["x"]}, {"line": []}, {"line": ["a|b|1|2", "||||"]}, {"total": "NaN"}, {"total": ""},
        {"bound": "1e999999"}, {"bound": "-1"}, {"bound": "sNaN"}, {"machines": "x"}, {"by": "9999-12-31x"},
    ],
)  # fmt: skip
def test_a_form_that_did_not_come_whole_orders_nothing(owner_client, frame, casting, proved, spoilt):
    answer = owner_client.post(at(frame, "ordering-order"), sent(get(owner_client, frame)) | spoilt)
    assert answer.status_code == 200
    assert not Order.objects.exists()


@pytest.mark.parametrize("key", ["", "x", "00000000"])
def test_without_a_key_of_its_own_it_is_not_taken(owner_client, frame, casting, proved, key):
    answer = owner_client.post(at(frame, "ordering-order"), sent(get(owner_client, frame), id=key))
    assert "id" in answer.context["making"].errors
    assert not Order.objects.exists()


def test_another_workshop_s_batch_is_not_taken(owner_client, frame, casting, proved, other_workshop):
    other = factories.ProjectFactory(design__workshop=other_workshop)
    form = sent(get(owner_client, frame), project=str(other.pk))
    assert "project" in owner_client.post(at(frame, "ordering-order"), form).context["making"].errors


def test_nothing_to_buy_says_what_to_do_next(owner_client, frame):
    assert reverse("route", args=[frame.pk]) in get(owner_client, frame).content.decode()
    cost.OperationFactory(part=frame, process=Process.PAINTING)
    assert "Nothing has to be bought" in words(get(owner_client, frame))


def test_a_helper_sees_no_prices(helper_client, frame):
    assert helper_client.get(at(frame)).status_code == 403


# -- what is there already


def test_what_is_there_and_on_order_is_a_line_with_its_working_and_links(
    owner_client, frame, casting, machining, proved
):
    batch = frame.design.projects.get()
    line = cost.OrderLineFactory(operation=casting, order__project=batch, revision=proved, quantity=4)
    old = factories.PieceFactory(part=frame, project=batch, revision=cost.RevisionFactory(part=frame, label="0"))
    answer = get(owner_client, frame, batch=batch.pk)
    page, piece = answer.content.decode(), batch.pieces.exclude(pk=old.pk).get()
    assert "frame: casting 9 1 4 4" in words(answer)  # nine, one in a machine, four on order
    assert "still to order of frame: casting: 4" in words(answer)
    for address in (reverse("piece", args=[piece.pk]), reverse("order", args=[line.order_id])):
        assert address in page
    assert f"Frame of an earlier revision: {old.mark} (0)" in words(answer)


def test_the_usual_question_is_for_the_open_batch_and_its_orders_go_there(owner_client, frame, casting, proved):
    batch = frame.design.projects.get()
    answer = owner_client.get(at(frame))
    assert (answer.context["ordering"].wanted.batch, answer.context["making"]["project"].value()) == (batch, batch.pk)


def test_with_the_box_ticked_nothing_is_there(owner_client, frame, casting, proved):
    cost.OrderLineFactory(operation=casting, revision=proved)
    assert "Nothing is to be ordered." in words(get(owner_client, frame))
    answer = get(owner_client, frame, afresh="on")
    assert "Planned as if nothing were there or on order." in words(answer)
    owner_client.post(at(frame, "ordering-order"), sent(answer))
    assert Order.objects.count() == 2


def test_after_the_orders_are_made_nothing_is_left_to_order(owner_client, frame, casting, machining, proved):
    batch = frame.design.projects.get()
    owner_client.post(at(frame, "ordering-order"), sent(get(owner_client, frame), project=str(batch.pk)))
    answer = get(owner_client, frame, batch=batch.pk)
    assert "Nothing is to be ordered. All of it is there or on order" in words(answer)
    assert answer.context["plan"].total == 0


def test_what_came_in_the_meantime_is_not_ordered_unseen(owner_client, frame, casting, machining, proved):
    form = sent(get(owner_client, frame))
    cost.OrderLineFactory(operation=casting, revision=proved, quantity=3)
    assert "Nothing was ordered." in words(owner_client.post(at(frame, "ordering-order"), form))
    assert Order.objects.count() == 1


@pytest.mark.parametrize("typed", ["x", "\x00", "00000000-0000-0000-0000-000000000001"])
def test_a_batch_that_is_none_is_told_at_its_box(owner_client, frame, casting, typed):
    assert "batch" in get(owner_client, frame, batch=typed).context["form"].errors


def test_another_workshop_s_batch_is_not_asked_for(owner_client, frame, casting, other_workshop):
    theirs = factories.ProjectFactory(design__workshop=other_workshop)
    assert "batch" in get(owner_client, frame, batch=theirs.pk).context["form"].errors


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_plan_as_shown_is_sent_as_a_file(owner_client, frame, casting, machining, kind):
    answer = get(owner_client, frame)
    assert reverse(f"ordering-{kind}", args=[frame.design_id]) in answer.content.decode()
    made = owner_client.post(at(frame, f"ordering-{kind}"), sent(answer))
    assert made["Content-Disposition"] == f'attachment; filename="ordering-plan.{kind}"'
    if kind == "csv":
        assert "all,,,,,,,,,,,,,,590.00,GBP" in made.content.decode()


def test_no_file_is_made_of_a_plan_that_cannot_be_had_any_more(owner_client, frame, casting, machining):
    form = sent(get(owner_client, frame))
    casting.quotes.update(withdrawn=True)
    answer = owner_client.post(at(frame, "ordering-csv"), form)
    assert "No file was made." in words(answer)
    assert "Nothing was ordered." in words(owner_client.post(at(frame, "ordering-order"), form))


def test_a_helper_is_sent_no_prices(helper_client, frame):
    assert helper_client.post(at(frame, "ordering-csv")).status_code == 403
