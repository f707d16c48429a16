"""Proving a design: its revisions, the checks its owner listed, what is proved, and what it cost so far."""

from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from projects.proving.domain.development import Development, part_records
from projects.proving.forms.proving import AboutPartForm, CheckForm, ExpenseForm
from projects.record.models import Check, Design, Expense, Machine


@member("plan")
def proving(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    development = Development(design)
    machines = Machine.objects.of(request.workshop).filter(project__design=design).select_related("project")
    context = {
        "design": design,
        "parts": part_records(development),
        "checks": design.checks.filter(part=None).order_by("retired", "what"),
        "development": development,
        "whole": development.of(None),
        "machines": machines.order_by("project__closed", "project__name", "number"),
    }
    return render(request, "projects/proving/proving.html", context)


def asked_about(request: WorkshopRequest) -> dict[str, Any]:
    """Part, revision or trial that the address names; rubbish names none of them."""
    asked = AboutPartForm(request.GET, workshop=request.workshop)
    if not asked.is_valid():
        raise Http404("No such part, revision or trial.")
    return asked.cleaned_data


@member("plan")
def check_new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    return _check(request, design, None, {"part": asked_about(request)["part"]})


@member("plan")
def check_edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    check = get_object_or_404(Check.objects.of(request.workshop).select_related("design"), pk=pk)
    return _check(request, check.design, check, {})


def _check(request: WorkshopRequest, design: Design, check: Check | None, first: dict[str, Any]) -> HttpResponse:
    form = CheckForm(request.POST or None, workshop=request.workshop, instance=check, design=design, initial=first)
    return _saved_or_shown(request, form, "projects/proving/check.html", {"design": design, "check": check})


def _saved_or_shown(
    request: WorkshopRequest, form: CheckForm | ExpenseForm, page: str, context: dict[str, Any]
) -> HttpResponse:
    """Back to the design once it is saved; what is sent again is saved already."""
    if not form.repeated:
        if not form.is_valid():
            return render(request, page, {"form": form, **context})
        form.save()
    return redirect("proving", context["design"].pk)


@member("plan")
def expense_new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    first = {"revision": asked_about(request)["revision"], "spent_on": timezone.localdate()}
    return _expense(request, get_object_or_404(Design.objects.of(request.workshop), pk=pk), None, first)


@member("plan")
def expense_edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    expense = get_object_or_404(Expense.objects.of(request.workshop).select_related("design"), pk=pk)
    return _expense(request, expense.design, expense, {})


def _expense(request: WorkshopRequest, design: Design, expense: Expense | None, first: dict[str, Any]) -> HttpResponse:
    form = ExpenseForm(
        request.POST or None,
        workshop=request.workshop,
        instance=expense,
        design=design,
        today=timezone.localdate(),
        initial=first,
    )
    return _saved_or_shown(request, form, "projects/proving/expense.html", {"design": design, "expense": expense})


@member("plan")
@require_POST
def expense_remove(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    expense = get_object_or_404(Expense.objects.of(request.workshop), pk=pk)
    expense.delete()
    return redirect("proving", expense.design_id)
