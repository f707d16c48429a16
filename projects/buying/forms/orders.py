"""An order with its lines, and what is paid of it."""

import re
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django import forms
from django.db.models import Q
from django.http import QueryDict

from finishing.science.working import day_told
from finishing.workshops.forms.base import WorkshopForm
from finishing.workshops.forms.fields import PriceField
from finishing.workshops.forms.rows import MOST_ROWS, ModelRow, Rows, rows_of
from projects.buying.domain.order_rules import NO_WORDING, lines_to_justify, up_to_least_order
from projects.buying.domain.proposals import NoPrice, proposal
from projects.record.domain.proved import current_revision
from projects.record.models import Design, Operation, Order, OrderLine, Payment, Revision, Supplier
from projects.record.models.orders import NOTHING, Sums
from projects.record.models.quotes import MOST_PIECES
from projects.site.forms.days import not_to_come

from .quotes import SupplierField

SUMS = ("pieces_cost", "setup", "tooling")


class OrderForm(WorkshopForm):
    supplier = SupplierField()

    class Meta:
        model = Order
        fields = ["supplier", "project", "number", "ordered_on", "promised_on", "goes_to", "delivery", "note"]
        field_classes = {"delivery": PriceField}
        widgets = {
            "ordered_on": forms.DateInput(),
            "promised_on": forms.DateInput(),
            "note": forms.Textarea(attrs={"rows": 2}),
        }
        labels = {"project": "For the batch", "goes_to": "Sent to", "note": "What they should know"}
        help_texts = {
            "project": "What comes is entered there as pieces. None: it is only counted.",
            "goes_to": "Straight to the one who works on next.",
            "delivery": "Empty: as their terms say.",
        }

    def __init__(self, *args: Any, design: Design, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.instance.design = today, design
        self.initial.setdefault("ordered_on", today)
        if self.instance._state.adding:
            self.initial["delivery"] = None
            self.fields["project"].initial = design.projects.filter(closed=False).first()
        self.fields["delivery"].required = False
        suppliers = Supplier.objects.of(self.workshop)
        self.offer_rows("supplier", suppliers.still_asked(self.instance.supplier_id))
        self.offer_rows(
            "project", design.projects.filter(Q(closed=False) | Q(pk=self.instance.project_id)), none="for none"
        )
        self.offer_rows("goes_to", suppliers.filter(retired=False), none="us")

    def clean_ordered_on(self) -> date:
        return not_to_come(self.cleaned_data["ordered_on"], self.today)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("goes_to") and cleaned["goes_to"] == cleaned.get("supplier"):
            self.add_error("goes_to", "This is the supplier; choose us, or who works on next.")
        return cleaned


class ChangeOrderForm(WorkshopForm):
    """What may still be said of an order: never the sums agreed."""

    class Meta:
        model = Order
        fields = ["number", "promised_on", "note"]
        widgets = {"promised_on": forms.DateInput(), "note": forms.Textarea(attrs={"rows": 2})}
        labels = {"note": "What they should know"}


class OperationField(forms.ModelChoiceField):
    def label_from_instance(self, obj: Operation) -> str:
        return str(obj) if obj.part else f"whole machine: {obj}"


class OrderRow(ModelRow):
    """One line. A sum left empty is proposed from a quote, and agreed when the order is sent again."""

    telling = ("operation", "quantity")
    seldom = ("revision", "reason")
    seldom_words = "Revision, and why of an unproved one"
    field_order = ("operation", "quantity", "pieces_cost", "setup", "tooling", "revision", "reason")

    operation = OperationField(Operation.objects.none(), label="What")
    proposed_for = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)

    class Meta:
        model = OrderLine
        fields = ["operation", "revision", "quantity", "pieces_cost", "setup", "tooling", "reason", "quote"]
        widgets = {"quote": forms.HiddenInput()}
        field_classes = dict.fromkeys(SUMS, PriceField)
        labels = {"pieces_cost": "All pieces"}
        help_texts = {"pieces_cost": "", "revision": "Empty: the newest."}

    def __init__(self, *args: Any, design: Design, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows(
            "operation",
            design.operations.exclude(process__in=Operation.FINISHING)
            .select_related("part", "design")
            .prefetch_related("part__revisions")
            .order_by("part__name", "position"),
            none="",
        )
        self.offer_rows(
            "revision", Revision.objects.filter(part__design=design).select_related("part"), none="the newest"
        )
        for name in SUMS:
            self.fields[name].required, self.fields[name].initial = False, None

    def clean_quantity(self) -> int:
        quantity = self.cleaned_data["quantity"]
        if quantity is not None and quantity > MOST_PIECES:
            raise forms.ValidationError("Not so many.")
        return quantity

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        operation, revision = cleaned.get("operation"), cleaned.get("revision")
        if operation and revision and revision.part_id != operation.part_id:
            self.add_error("revision", "This revision is of another part.")
        elif operation and not revision:
            cleaned["revision"] = current_revision(operation.part)
        if operation and cleaned.get("quote") and cleaned["quote"].operation_id != operation.pk:
            cleaned["quote"] = None
        return cleaned

    def propose(self, order: Order) -> dict[str, Any]:
        """What to write into boxes left empty, or filled for something else; a sum that nobody names is none."""
        line = self.instance
        bought = f"{order.supplier_id} {line.operation_id} {line.revision_id} {line.quantity}"
        stale = self.cleaned_data["proposed_for"] not in {"", bought}
        wanting = [name for name in SUMS if stale or self.cleaned_data.get(name) is None]
        try:
            proposed = proposal(order.supplier, line.operation, line.revision, line.quantity, order.ordered_on)
        except NoPrice as why:
            line.quote = None
            line.setup, line.tooling = line.setup or Decimal(0), line.tooling or Decimal(0)
            if "pieces_cost" in wanting:
                line.pieces_cost = None
                self.add_error("pieces_cost", str(why))
            return {}
        self.advice = proposed.advice
        sums = {name: getattr(proposed, name.removesuffix("_cost")) for name in wanting}
        for name, amount in sums.items():
            setattr(line, name, amount)
        if not any(sums.values()):
            return {}
        line.quote = proposed.quote
        return {**sums, "quote": proposed.quote.pk, "proposed_for": bought}


class OrderRows(Rows):
    title = "What is ordered"
    about = (
        "Sums are in the supplier's currency and without tax."
        " Leave them empty where a quote stands: they are then proposed."
    )
    more = "More empty rows come with “Work out the sums”."

    def __init__(self, *args: Any, design: Design, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.form_kwargs["design"] = design

    def clean(self) -> None:
        if not self.filled:
            raise forms.ValidationError("Say at least in one row what is ordered, and how many.")

    @property
    def lines(self) -> list[OrderLine]:
        return [row.instance for row in self.filled]

    @property
    def reasons(self) -> dict[UUID, str]:
        return {line.operation_id: line.reason for line in self.lines if line.reason}

    @property
    def priced(self) -> bool:
        return bool(self.filled) and all(row.instance.pieces_cost is not None for row in self.filled)


SPARE_ROWS = 3
ROW_FILLED = re.compile(r"lines-\d+-operation")
ORDER_ROWS = rows_of(OrderRow, OrderRows, extra=SPARE_ROWS)


class OrderDraft:
    """An order being typed: its form, its rows, and what is proposed where a sum was left open."""

    def __init__(
        self,
        data: QueryDict,
        *,
        design: Design,
        today: date,
        initial: dict[str, Any] | None = None,
        begin: Iterable[dict[str, Any]] = (),
    ) -> None:
        self.data = _with_empty_rows(data)
        sent, workshop = self.data or None, design.workshop
        self.form = OrderForm(sent, workshop=workshop, design=design, today=today, initial=initial)
        self.rows = ORDER_ROWS(sent, workshop=workshop, design=design, prefix="lines", begin=begin)
        self.proposed = False

    @property
    def sound(self) -> bool:
        return all([self.form.is_valid(), self.rows.is_valid()])

    @property
    def order(self) -> Order:
        return self.form.instance

    def complete(self) -> bool:
        """Whether nothing is left open. Proposals are written into empty boxes, and wait there to be agreed."""
        if self.form.cleaned_data["delivery"] is None:
            self.order.delivery = self.order.supplier.delivery
            if self.order.delivery:
                self._write(self.form, "delivery", self.order.delivery)
        for row in self.rows.filled:
            for name, value in row.propose(self.order).items():
                self._write(row, name, value)
        wanting = lines_to_justify(self.order.design, self.rows.lines)
        for row in self.rows.filled:
            for line, why in wanting:
                if line is row.instance and not line.reason:
                    what = line.revision or line.operation.part
                    if why == NO_WORDING:
                        told = f"{what}: {why}. Choose one under its letters, or say why it is cast without."
                    else:
                        told = f"{what} is not proved: {why}. Say why more than one is ordered."
                    row.add_error("reason", told)
        return not self.proposed and self.rows.all_right

    def _write(self, form: forms.BaseForm, name: str, value: object) -> None:
        self.proposed = True
        self.data[form.add_prefix(name)] = str(value)

    @property
    def sums(self) -> Sums | None:
        """None as long as one of them is missing."""
        if not self.form.is_bound or self.form.errors or not self.rows.priced:
            return None
        order, lines = self.order, self.rows.lines
        goods, charge = sum((line.cost for line in lines), NOTHING), up_to_least_order(order.supplier, lines)
        return Sums(goods, order.delivery, charge, order.supplier.tax, order.supplier.money_in)


def _with_empty_rows(data: QueryDict) -> QueryDict:
    """What was sent, which may be written into, with room for more rows than were filled."""
    mine = data.copy()
    filled = sum(bool(data[name]) for name in data if ROW_FILLED.fullmatch(name))
    total = data.get("lines-TOTAL_FORMS", "")
    if total.isdecimal() and len(total) < 4:
        mine["lines-TOTAL_FORMS"] = str(min(MOST_ROWS, max(int(total), filled + SPARE_ROWS)))
    return mine


class PaymentForm(WorkshopForm):
    class Meta:
        model = Payment
        fields = ["paid_on", "amount", "note"]
        field_classes = {"amount": PriceField}
        widgets = {"paid_on": forms.DateInput()}

    def __init__(self, *args: Any, order: Order, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order, self.today, self.instance.order = order, today, order
        self.initial.setdefault("paid_on", today)
        if order.to_pay > 0:
            self.initial.setdefault("amount", order.to_pay)
        self.print_beside("amount", order.currency)

    def clean_amount(self) -> Decimal:
        amount = self.cleaned_data["amount"]
        if not amount:
            raise forms.ValidationError("Nothing was paid? Then there is no payment.")
        if self.order.paid + amount < 0:
            raise forms.ValidationError(f"Only {self.order.paid} was paid so far; no more can be taken back.")
        return amount

    def clean_paid_on(self) -> date:
        paid = not_to_come(self.cleaned_data["paid_on"], self.today)
        if paid < self.order.ordered_on:
            raise forms.ValidationError(f"It was ordered later, on {day_told(self.order.ordered_on)}.")
        return paid
