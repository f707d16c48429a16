"""Patterns and jigs of a design: where each is, whose, and how much is left of it."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from projects.buying.actions import tools as actions
from projects.buying.domain.tool_wear import next_batch, wear_of
from projects.buying.forms.tools import NewToolForm, RepairForm, ToolForm, operations_with_tools
from projects.record.models import Design, Tool


@member("plan")
def tools(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    rows = Tool.objects.of(request.workshop).in_full().filter(operation__design=design)
    batch = next_batch(design)
    context = {
        "design": design,
        "wears": wear_of(design, rows.order_by("operation__part__name", "name"), batch),
        "batch": batch,
        "has_operations": operations_with_tools(design).exists(),
    }
    return render(request, "projects/buying/tools/tools.html", context)


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """For the operation that is asked for; else for the first."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    asked = NewToolForm(request.GET, workshop=request.workshop, design=design)
    operation = asked.cleaned_data["operation"] if asked.is_valid() else None
    return _edit(request, design, None, {"operation": operation})


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    tool = get_object_or_404(Tool.objects.of(request.workshop).in_full(), pk=pk)
    return _edit(request, tool.operation.design, tool, {})


def _edit(request: WorkshopRequest, design: Design, tool: Tool | None, first: dict[str, Any]) -> HttpResponse:
    form = ToolForm(
        request.POST or None,
        request.FILES or None,
        workshop=request.workshop,
        instance=tool,
        design=design,
        initial=first,
    )
    if form.repeated:
        return redirect("tool", form.repeated.pk)
    if form.is_valid():
        return redirect("tool", form.save().pk)
    # the form has written into the other what was typed
    kept = tool and Tool.objects.of(request.workshop).in_full().get(pk=tool.pk)
    return render(request, "projects/buying/tools/edit.html", {"form": form, "design": design, "tool": kept})


@member("plan")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    return _detail(request, get_object_or_404(Tool.objects.of(request.workshop).in_full(), pk=pk))


def _detail(request: WorkshopRequest, tool: Tool, form: RepairForm | None = None) -> HttpResponse:
    design = tool.operation.design
    batch = next_batch(design)
    first = {"repaired_on": timezone.localdate()}
    context = {
        "tool": tool,
        "design": design,
        "wear": wear_of(design, [tool], batch)[0],
        "batch": batch,
        "form": form or RepairForm(workshop=request.workshop, initial=first),
    }
    return render(request, "projects/buying/tools/detail.html", context, status=422 if form else 200)


@member("plan")
@require_POST
def repair(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    tool = get_object_or_404(Tool.objects.of(request.workshop).in_full(), pk=pk)
    form = RepairForm(request.POST, workshop=request.workshop)
    form.instance.tool = tool
    if not form.repeated:
        if not form.is_valid():
            return _detail(request, tool, form)
        actions.note_repair(form.instance)
    return redirect("tool", tool.pk)
