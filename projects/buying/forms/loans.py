"""What is lent to whom, since when and until when."""

from datetime import date
from typing import Any

from django import forms

from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.models import Membership, User
from projects.record.models import Design, Loan, Piece, Project, Supplier, Tool
from projects.site.forms.days import not_to_come

THINGS = ("piece", "tool", "what")
HOLDERS = ("supplier", "member", "borrower")


class NewLoanForm(QuestionForm):
    """By the address: what is to be lent, to whom, or whose things may be chosen; and which loans a list shows."""

    piece = forms.ModelChoiceField(Piece.objects.select_related("part", "project"), required=False)
    tool = forms.ModelChoiceField(Tool.objects.select_related("operation__part", "operation__design"), required=False)
    supplier = forms.ModelChoiceField(Supplier.objects.all(), required=False)
    project = forms.ModelChoiceField(Project.objects.select_related("design"), required=False)
    design = forms.ModelChoiceField(Design.objects.all(), required=False)

    @property
    def asked(self) -> dict[str, Any]:
        """The rows that are named, by box; what is none of this workshop's asks for nothing."""
        self.is_valid()
        return {name: self.cleaned_data.get(name) for name in self.fields}


class ToolChoice(forms.ModelChoiceField):
    """Two patterns may have one mark: the part tells them apart."""

    def label_from_instance(self, tool: Any) -> str:
        return tool.name_with_part


class LoanForm(WorkshopForm):
    """A new loan, or what may be said otherwise of one: a thing that was not lent at all is a mistake, not a change.

    piece, tool: what is lent, where that is settled · project, design: whose things may be chosen; else everybody's
    """

    class Meta:
        model = Loan
        fields = ["piece", "tool", "what", "supplier", "member", "borrower", "lent_on", "due_on", "note"]
        field_classes = {"tool": ToolChoice}
        widgets = {"lent_on": forms.DateInput(), "due_on": forms.DateInput()}
        help_texts = {
            "what": "For example: chain hoist, half ton.",
            "borrower": "A name, and how to reach them.",
            "due_on": "Empty: no day was said. After it the day sheet asks for it.",
        }

    SECTIONS = (
        ("What: one of these", THINGS),
        ("To whom: one of these", HOLDERS),
        ("When", ("lent_on", "due_on", "note")),
    )

    def __init__(
        self,
        *args: Any,
        today: date,
        piece: Piece | None = None,
        tool: Tool | None = None,
        project: Project | None = None,
        design: Design | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        if self.instance._state.adding:
            self.instance.piece, self.instance.tool, self.instance.project = piece, tool, project
            self.initial.setdefault("lent_on", today)
        if self.instance.piece or self.instance.tool or not self.instance._state.adding:
            for name in THINGS:
                del self.fields[name]
        else:
            self._offer_things(project, design)
        self.offer_rows("supplier", Supplier.objects.of(self.workshop).still_asked(self.instance.supplier_id))
        members = Membership.objects.of(self.workshop)
        self.offer_rows("member", User.objects.filter(memberships__in=members).order_by("username"))

    def _offer_things(self, project: Project | None, design: Design | None) -> None:
        out = Loan.objects.of(self.workshop).out()
        pieces = Piece.objects.of(self.workshop).filter(project__closed=False).exclude(loans__in=out)
        tools = Tool.objects.of(self.workshop).exclude(loans__in=out).exclude(state=Tool.State.WANTED)
        if project:
            pieces, design = pieces.filter(project=project), project.design
        if design:
            pieces, tools = pieces.filter(project__design=design), tools.filter(operation__design=design)
        self.offer_rows("piece", pieces.select_related("part").order_by("project__name", "mark"))
        tools = tools.select_related("operation__part")
        self.offer_rows("tool", tools.order_by("operation__part__name", "name"))

    def clean_lent_on(self) -> date:
        return not_to_come(self.cleaned_data["lent_on"], self.today)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self._one_of(cleaned, THINGS, "what", "Choose a piece, a pattern or a jig, or say in words what it is.")
        self._one_of(cleaned, HOLDERS, "borrower", "Choose who has it, or type a name.")
        lent_on, due_on = cleaned.get("lent_on"), cleaned.get("due_on")
        if lent_on and due_on and due_on < lent_on:
            self.add_error("due_on", "It would be due before it was lent.")
        piece = cleaned.get("piece") or self.instance.piece
        if piece:
            self.instance.project = piece.project
        elif cleaned.get("tool") or self.instance.tool:
            self.instance.project = None
        return cleaned

    def _one_of(self, cleaned: dict[str, Any], names: tuple[str, ...], last: str, none: str) -> None:
        here = [name for name in names if name in self.fields]
        said = [name for name in here if cleaned.get(name)]
        if not here or any(name in self.errors for name in here):
            return
        if not said:
            self.add_error(last, none)
        for name in said[1:]:
            self.add_error(name, f"One at a time: {self.fields[said[0]].label} is filled in already.")


class MistakeForm(forms.Form):
    """Why a loan was none."""

    reason = forms.CharField(max_length=300, label="What was wrong with it")
