"""How much paint a project needs, and what to buy."""

from uuid import UUID

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.text import slugify

from finishing.workshops.access import WorkshopRequest, may, member, unless_unchanged
from projects.record.domain.states import read_states
from projects.record.models import OpenedTin, Piece, Plan, Project, Slot
from projects.work import exports
from projects.work.domain import paint
from projects.work.domain.paint_sessions import paint_sessions
from projects.work.forms.paint import PaintListForm


@member("look")
@unless_unchanged
def paint_list(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project, form, paints = _asked(request, pk)
    receipts = project.paint_receipts.filter(voids=None).select_related("coating", "by", "voided_by__by")
    asked = request.GET.get("coat", "")
    opened = next((coat for need in paints.needs for coat in need.coats if coat.key == asked), None)
    context = {
        "project": project,
        "form": form,
        "paints": paints,
        "receipts": receipts,
        "opened": opened,
        "in_store": OpenedTin.objects.of(request.workshop).standing().told(),
        "today": timezone.localdate(),
    }
    if request.htmx and opened:
        return render(request, "projects/work/paint/list.html#coat", {**context, "coat": opened})
    return render(request, "projects/work/paint/list.html", context)


@member("look")
def paint_csv(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project, _, paints = _asked(request, pk)
    currency = request.workshop.currency if may(request, "money") else ""
    body = exports.paint_csv(paints, request.workshop.units, currency)
    name = slugify(project.name) or "project"
    return HttpResponse(
        body,
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="paint-{name}.csv"'},
    )


def _asked(request: WorkshopRequest, pk: UUID) -> tuple[Project, PaintListForm, paint.PaintList]:
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk)
    asked = {"layers": "to do", "wanted": "high"} | request.GET.dict()
    form = PaintListForm(asked, workshop=request.workshop)
    kept = Plan.objects.of(request.workshop).kept()
    coats = Slot.objects.filter(plan__in=kept, kind=Slot.Kind.COAT).in_short()
    on_plan = Slot.pieces.through.objects.filter(slot__plan__in=kept).values("piece") if coats else []
    asked_for = Piece.objects.of(request.workshop).filter(Q(project=project) | Q(pk__in=on_plan))
    read = read_states(asked_for, "system__layers__coating__tin_sizes")
    pieces = [piece for piece in read if piece.project_id == project.pk]
    planned = paint_sessions(request.workshop, coats, read)
    return project, form, paint.paint_list(pieces, all_layers=form.all_layers, wanted=form.amount, planned=planned)
