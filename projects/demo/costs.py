"""What the demonstration's design costs: routes, suppliers and their quotes, what was proved, and who wants one."""

import json
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db.models import Model

from finishing.coatings.models import Coating
from finishing.workshops.models import Place, User
from projects.buying.actions.orders import place_order
from projects.buying.actions.quotes import save_quote
from projects.buying.actions.receipts import receive
from projects.buying.actions.routes import keep_operation
from projects.buying.actions.suppliers import note_rate
from projects.buying.domain.proposals import proposal
from projects.proving.actions import fit
from projects.record.domain.proved import current_revision
from projects.record.models import (
    Buyer,
    Check,
    CostRange,
    CostTerms,
    Design,
    ExchangeRate,
    Expense,
    Fitting,
    Loan,
    Machine,
    OpenedTin,
    Operation,
    Order,
    OrderLine,
    PaintReceipt,
    Part,
    Payment,
    Piece,
    Quote,
    Receipt,
    Revision,
    StagePayment,
    Supplier,
    Tool,
    Trial,
)

from .air import Diary

Scenario = dict[str, Any]


def add_costs(diary: Diary, by: User) -> None:
    CostStory(diary, by).tell()


class CostStory:
    def __init__(self, diary: Diary, by: User) -> None:
        self.diary, self.by, self.workshop = diary, by, diary.workshop
        self.scenario = json.loads((settings.SHIPPED / "fixtures" / "demo-costs.json").read_text(encoding="utf-8"))
        self.design = Design.objects.of(self.workshop).get(name=self.scenario["design"])
        self.project = self.design.projects.get(name=self.scenario["project"])

    def tell(self) -> None:
        for code, rate, source in self.scenario["rates"]:
            note_rate(self.row(ExchangeRate, currency=code, rate=Decimal(rate), source=source, noted_on=self.day(10)))
        for entry in self.scenario["suppliers"]:
            self.row(Supplier, **entry).save()
        for entry in self.scenario["bought"]:
            self.row(Part, design=self.design, material=Part.Material.STEEL, **entry).save()
        self._routes()
        self._proving()
        for entry in self.scenario["quotes"]:
            self._quote(**entry)
        self._terms()
        self._order(**self.scenario["order"])
        for entry in self.scenario["loans"]:
            self._loan(**entry)
        for entry in self.scenario["paint"]:
            self._paint(**entry)
        for entry in self.scenario["opened"]:
            self._opened(**entry)
        for entry in self.scenario["buyers"]:
            self._buyer(**entry)

    # -- what everything is found by

    def row(self, model: type[Model], **values: Any) -> Any:
        """A row not yet kept; it must be as a form would have it."""
        row = model(workshop=self.workshop, **_sums(model, values))
        row.full_clean()
        return row

    def day(self, ago: int) -> date:
        return self.diary.today - timedelta(days=ago)

    @cached_property
    def parts(self) -> dict[str, Part]:
        return {part.name: part for part in self.design.parts.prefetch_related("revisions")}

    @cached_property
    def suppliers(self) -> dict[str, Supplier]:
        return {row.name: row for row in Supplier.objects.of(self.workshop)}

    def operation(self, part: str, process: str) -> Operation:
        return self.design.operations.select_related("part", "design").get(part=self.parts[part], process=process)

    # -- how it is made, and whether that is proved

    def _routes(self) -> None:
        for name, entries in self.scenario["routes"].items():
            for entry in entries:
                self._operation(self.parts[name], **entry)
        for entry in self.scenario["machine"]:
            self._operation(None, **entry)

    def _operation(self, part: Part | None, tools: Iterable[Scenario] = (), **values: Any) -> None:
        row = keep_operation(self.row(Operation, design=self.design, part=part, **values))
        for tool in tools:
            self.row(Tool, operation=row, **tool).save()

    def _proving(self) -> None:
        for name in self.scenario["revisions"]:
            first = self.row(Revision, part=self.parts[name], label="A")
            first.save()
            self.project.pieces.filter(part=self.parts[name]).update(revision=first)
        del self.parts
        for entry in self.scenario["expenses"]:
            self._expense(**entry)
        for entry in self.scenario["checks"]:
            part = self.parts.get(entry.pop("part", ""))
            self.row(Check, design=self.design, part=part, **entry).save()
        self._put_together()
        for entry in self.scenario["trials"]:
            self._trial(**entry)

    def _expense(self, days_ago: int, part: str = "", revision: str = "", **values: Any) -> None:
        at = self.parts[part].revisions.get(label=revision) if part else None
        self.row(Expense, design=self.design, revision=at, spent_on=self.day(days_ago), **values).save()

    def _put_together(self) -> None:
        pieces = self.project.pieces.filter(machine=self.first).order_by("part", "mark").select_related("part")
        seen: dict[UUID, int] = {}
        for piece in pieces:
            seen[piece.part_id] = seen.get(piece.part_id, 0) + 1
            fit(self.row(Fitting, **self._by_hand(8), part=piece.part, position=seen[piece.part_id], piece=piece))

    def _trial(self, check: str, days_ago: int, **values: Any) -> None:
        asked = Check.objects.get(design=self.design, what=check)
        revision = current_revision(asked.part)
        when = self._by_hand(days_ago, "tried_at")
        self.row(Trial, check_done=asked, revision=revision, **when, **values).save()

    @cached_property
    def first(self) -> Machine:
        return self.project.machines.get(number=self.scenario["fitted"])

    def _by_hand(self, days_ago: int, when: str = "fitted_at") -> Scenario:
        return {"machine": self.first, when: self.diary.now - timedelta(days=days_ago), "by": self.by}

    # -- what is offered, ordered and wanted

    def _quote(self, part: str, process: str, supplier: str, prices: Scenario, days_old: int, valid_days: int,
               **values: Any) -> None:  # fmt: skip
        quote = self.row(
            Quote,
            operation=self.operation(part, process),
            supplier=self.suppliers[supplier],
            revision=current_revision(self.parts[part]),
            quoted_on=self.day(days_old),
            valid_until=self.day(days_old - valid_days),
            **values,
        )
        save_quote(quote, [(int(begins), Decimal(price)) for begins, price in prices.items()])

    def _terms(self) -> None:
        terms = self.row(CostTerms, design=self.design, **self.scenario["terms"])
        terms.save()
        for name, low, high in self.scenario["ranges"]:
            self.row(CostRange, terms=terms, input=name, low=Decimal(low), high=Decimal(high)).save()

    def _order(self, supplier: str, number: str, days_ago: int, promised_in: int, process: str, lines: Scenario,
               reason: str, received: Scenario, paid: str) -> None:  # fmt: skip
        whom, day = self.suppliers[supplier], self.day(days_ago)
        order = self.row(
            Order, supplier=whom, design=self.design, project=self.project, number=number, ordered_on=day,
            promised_on=self.day(-promised_in), delivery=whom.delivery,
        )  # fmt: skip
        wanted = [self._line(whom, self.parts[part], process, count) for part, count in lines.items()]
        place_order(order, wanted, {line.operation_id: reason for line in wanted})
        for part, (good, rejected, why) in received.items():
            self._receipt(order, self.parts[part], good, rejected, why)
        self.row(Payment, order=order, paid_on=self.day(5), amount=paid).save()

    def _line(self, whom: Supplier, part: Part, process: str, quantity: int) -> OrderLine:
        operation, revision = self.operation(part.name, process), current_revision(part)
        agreed = proposal(whom, operation, revision, quantity, self.diary.today)
        return OrderLine(
            operation=operation, revision=revision, quote=agreed.quote, quantity=quantity, pieces_cost=agreed.pieces,
            setup=agreed.setup, tooling=agreed.tooling,
        )  # fmt: skip

    def _receipt(self, order: Order, part: Part, good: int, rejected: int, why: str) -> None:
        line = order.lines.get(operation__part=part)
        values = {"received_on": self.day(2), "good": good, "rejected": rejected, "why": why}
        marks = [f"{3 + at}-{part.name[:2].upper()}" for at in range(good)]
        bay = Place.objects.of(self.workshop).filter(blasted_in=True).first()
        receive(self.row(Receipt, line=line, by=self.by, **values), marks=marks, place=bay)

    def _loan(self, supplier: str, days_ago: int, due_in: int, tool: str = "", piece: str = "", **values: Any) -> None:
        kind, _, name = tool.rpartition(" ")
        pattern = Tool.objects.of(self.workshop).get(kind=kind, name=name) if tool else None
        lent = Piece.objects.of(self.workshop).select_related("project").get(mark=piece) if piece else None
        own = {"tool": pattern, "piece": lent, "project": lent and lent.project, "by": self.by}
        days = {"lent_on": self.day(days_ago), "due_on": self.day(-due_in)}
        self.row(Loan, supplier=self.suppliers[supplier], **own, **days, **values).save()

    def _opened(self, coating: str, days_ago: int, **values: Any) -> None:
        tin = Coating.objects.of(self.workshop).get(name=coating, from_library=False)
        self.row(OpenedTin, coating=tin, opened_on=self.day(days_ago), by=self.by, **values).save()

    def _paint(self, coating: str, days_ago: int, **values: Any) -> None:
        tin = Coating.objects.of(self.workshop).get(name=coating, from_library=False)
        own = {"project": self.project, "coating": tin, "currency": self.workshop.currency, "by": self.by}
        self.row(PaintReceipt, **own, bought_on=self.day(days_ago), **values).save()

    def _buyer(
        self, days_ago: int, machine: str = "", paid: Iterable[tuple[str, str, int]] = (), **values: Any
    ) -> None:
        given = self.project.machines.get(number=machine) if machine else None
        row = self.row(Buyer, design=self.design, machine=given, enquired_on=self.day(days_ago), **values)
        row.save()
        for what, amount, ago in paid:
            self.row(StagePayment, buyer=row, what=what, amount=amount, paid_on=self.day(ago)).save()


def _sums(model: type[Model], values: Scenario) -> Scenario:
    """Sums are written as text, so that no cent is lost on the way."""
    decimals = {field.name for field in model._meta.fields if field.get_internal_type() == "DecimalField"}
    return {
        name: Decimal(value) if name in decimals and isinstance(value, str) else value for name, value in values.items()
    }
