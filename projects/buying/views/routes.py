"""How the parts of a design are made: the route of each, operation by operation."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from projects.buying.actions import routes as actions
from projects.buying.domain.route_gaps import gaps, in_order, parts_with_routes, routed_parts, unpriced
from projects.buying.forms.routes import OF_THE_MACHINE, NewOperationForm, OperationForm
from projects.record.models import Design, Operation, Part


@member("plan")
def routes(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    whole = in_order(design.operations.filter(part=None))
    context = {"design": design, "parts": routed_parts(design), "whole": whole}
    return render(request, "projects/buying/routes/routes.html", context)


@member("plan")
def route(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Part.objects.of(request.workshop).select_related("design"), pk=pk).design
    part = parts_with_routes(design).get(pk=pk)
    return _route(request, design, list(part.operations.all()), part)


@member("plan")
def machine_route(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Assembly, packing, carriage: what is done to the machine as a whole."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    return _route(request, design, list(in_order(design.operations.filter(part=None))), None)


def _route(request: WorkshopRequest, design: Design, route: list[Operation], part: Part | None) -> HttpResponse:
    context = {
        "design": design,
        "part": part,
        "gaps": gaps(part) if part else [],
        "operations": route,
        "unpriced": unpriced(route),
        "processes": _processes(part),
    }
    return render(request, "projects/buying/routes/route.html", context)


def _processes(part: Part | None) -> list[tuple[str, str]]:
    """What may be added, with the machine's own first where there is no part."""
    first = [] if part else [choice for choice in Operation.Process.choices if choice[0] in OF_THE_MACHINE]
    return [*first, *(choice for choice in Operation.Process.choices if choice not in first)]


@member("plan")
def operation_new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    asked = NewOperationForm(request.GET, workshop=request.workshop, design=design)
    if not asked.is_valid():
        raise Http404("No such part or process.")
    part, process = asked.cleaned_data["part"], asked.cleaned_data["process"]
    if not process:
        context = {"design": design, "part": part, "processes": _processes(part)}
        return render(request, "projects/buying/routes/processes.html", context)
    return _edit(request, design, part, process)


@member("plan")
def operation(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    row = _operation(request, pk)
    return _edit(request, row.design, row.part, row.process, row)


def _operation(request: WorkshopRequest, pk: UUID) -> Operation:
    rows = Operation.objects.of(request.workshop).select_related("design", "part")
    return get_object_or_404(rows, pk=pk)


def _edit(
    request: WorkshopRequest, design: Design, part: Part | None, process: str, row: Operation | None = None
) -> HttpResponse:
    form = OperationForm(
        request.POST or None, workshop=request.workshop, instance=row, design=design, part=part, process=process
    )
    if form.repeated or form.is_valid():
        return _back(form.repeated or actions.keep_operation(form.instance))
    context = {"form": form, "design": design, "part": part, "operation": form.instance, "new": row is None}
    return render(request, "projects/buying/routes/edit.html", context)


def _back(row: Operation) -> HttpResponse:
    return redirect("route", row.part_id) if row.part_id else redirect("machine-route", row.design_id)


@member("plan")
@require_POST
def usual(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    part = get_object_or_404(Part.objects.of(request.workshop), pk=pk)
    actions.begin_usual_route(part)
    return redirect("route", part.pk)


@member("plan")
@require_POST
def move(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    row = _operation(request, pk)
    actions.move_operation(row, up="up" in request.POST)
    return _back(row)


@member("plan")
@require_POST
def remove(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    row = _operation(request, pk)
    hanging = actions.remove_operation(row)
    if hanging:
        messages.warning(request, f"{row.label.capitalize()} stays: {' and '.join(hanging)} hang on it.")
    return _back(row)
