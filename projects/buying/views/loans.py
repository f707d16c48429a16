"""What is out on loan: listed, lent, corrected, and back with one tap."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import Case, F, Q, Value, When
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.site.searching import page_of
from finishing.workshops.access import WorkshopRequest, member
from projects.buying.actions import loans as actions
from projects.buying.forms.loans import LoanForm, MistakeForm, NewLoanForm
from projects.record.models import Loan
from projects.record.models.loans import OUT


@member("look")
def loans(request: WorkshopRequest) -> HttpResponse:
    """What is out, the soonest due first, then what came back; of a project, a design or a supplier where asked."""
    asked = NewLoanForm(request.GET, workshop=request.workshop).asked
    rows = Loan.objects.of(request.workshop).told()
    project, design, supplier = (asked[name] for name in ("project", "design", "supplier"))
    if project:
        rows = rows.filter(Q(project=project) | Q(tool__operation__design=project.design_id))
    if design:
        rows = rows.filter(Q(project__design=design) | Q(tool__operation__design=design))
    if supplier:
        rows = rows.filter(supplier=supplier)
    group = Case(When(OUT, then=Value(0)), When(mistaken=True, then=Value(2)), default=Value(1))
    page = page_of(request, rows.order_by(group, F("due_on").asc(nulls_last=True), "-lent_on", "-entered_at"))
    context = {
        "page": page,
        "project": project,
        "design": design,
        "supplier": supplier,
        "about": project or design or supplier,
        "asked": "&".join(f"{name}={row.pk}" for name, row in asked.items() if row),
    }
    return render(request, "projects/buying/loans/loans.html", context)


@member("log")
def new(request: WorkshopRequest) -> HttpResponse:
    """The address may say what, to whom, and of which project or design."""
    asked = NewLoanForm(request.GET, workshop=request.workshop).asked
    sent = request.POST if request.method == "POST" else None
    first = {"supplier": asked.pop("supplier")}
    thing = asked["piece"] or asked["tool"]
    if thing and (out := thing.loans.out().first()):
        messages.warning(request, f"{out.thing} is out already; note first that it is back.")
        return redirect("loan", out.pk)
    form = LoanForm(sent, workshop=request.workshop, today=timezone.localdate(), initial=first, **asked)
    if form.repeated:
        return redirect("loan", form.repeated.pk)
    if form.is_valid():
        form.instance.by = request.user
        return redirect("loan", form.save().pk)
    context = {"form": form, "thing": form.instance.thing if thing else "", "back": thing, **asked}
    return render(request, "projects/buying/loans/edit.html", context, status=422 if form.errors else 200)


@member("log")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    loan = _loan(request, pk)
    sent = request.POST if request.method == "POST" else None
    form = LoanForm(sent, workshop=request.workshop, today=timezone.localdate(), instance=loan)
    if form.is_valid():
        actions.correct(form.instance, before=_loan(request, pk), by=request.user)
        return redirect("loan", pk)
    kept = _loan(request, pk)  # the form has written into the other what was typed
    context = {"form": form, "thing": kept.thing, "loan": kept}
    return render(request, "projects/buying/loans/edit.html", context, status=422 if form.errors else 200)


@member("look")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    return _detail(request, _loan(request, pk))


def _detail(request: WorkshopRequest, loan: Loan, form: MistakeForm | None = None) -> HttpResponse:
    context: dict[str, Any] = {
        "loan": loan,
        "changes": loan.changes.select_related("by"),
        "form": form or MistakeForm(),
    }
    return render(request, "projects/buying/loans/detail.html", context, status=422 if form else 200)


@member("log")
@require_POST
def back(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    actions.give_back(_loan(request, pk), by=request.user, day=timezone.localdate())
    return redirect("loan", pk)


@member("log")
@require_POST
def undo(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    if not actions.take_up_again(_loan(request, pk), by=request.user):
        messages.warning(request, "It has been lent again since, so it is not out on this loan.")
    return redirect("loan", pk)


@member("log")
@require_POST
def mistake(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    loan, form = _loan(request, pk), MistakeForm(request.POST)
    if not form.is_valid():
        return _detail(request, loan, form)
    actions.was_mistaken(loan, by=request.user, reason=form.cleaned_data["reason"])
    return redirect("loan", pk)


def _loan(request: WorkshopRequest, pk: UUID) -> Loan:
    rows = Loan.objects.of(request.workshop).told()
    return get_object_or_404(rows.select_related("project", "tool__operation__design", "by"), pk=pk)
