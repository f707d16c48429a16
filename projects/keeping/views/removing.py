"""Rows made by mistake: removed where nothing hangs on them, else set aside; and what is set aside, used again."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from finishing.site.models import LibraryRow, WorkshopRow
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.keeping.actions.removing import KINDS, Removable, hanging, put_aside
from projects.keeping.actions.removing import remove as remove_row
from projects.record.models import Buyer, Order, Part, Photo, Piece

MOST_SHOWN = 50  # of a kind


@member("plan")
def remove(request: WorkshopRequest, pk: UUID, kind: str) -> HttpResponse:
    """Asks first: what goes, or what hangs on it and what may be done instead."""
    removable = KINDS[kind]
    row = _row(request, removable, pk)
    if request.method == "POST" and "aside" in request.POST and removable.aside:
        put_aside(removable, row, aside=True)
        messages.success(request, f"{row} is set aside. It may be used again at any time.")
        return redirect("set-aside")
    if request.method == "POST":
        beyond = _beyond(row)
        try:
            remove_row(removable, row)
        except ValidationError as refusal:
            messages.warning(request, " ".join(refusal.messages))
            return redirect(removable.page, pk)
        messages.success(request, f"{row} is removed.")
        return beyond
    context = {"kind": removable, "row": row, "hanging": hanging(removable, row)}
    return render(request, "projects/keeping/removing/remove.html", context)


def _row(request: WorkshopRequest, kind: Removable, pk: UUID) -> WorkshopRow:
    """Of the starting library nothing is removed."""
    row: WorkshopRow = get_object_or_404(kind.model.objects.filter(workshop=request.workshop), pk=pk)
    if isinstance(row, LibraryRow) and row.from_library:
        raise Http404("What came with the starting library stays.")
    return row


def _beyond(row: WorkshopRow) -> HttpResponse:
    """The page on which it stood in a list."""
    if isinstance(row, Piece):
        return redirect("project", row.project_id)
    if isinstance(row, Photo):
        return redirect("album", row.project_id)
    if isinstance(row, Part):
        return redirect("design", row.design_id)
    if isinstance(row, Order):
        return redirect("orders", row.design_id)
    if isinstance(row, Buyer):
        return redirect("buyers", row.design_id)
    name = row._meta.model_name or ""
    return redirect({"medium": "media"}.get(name, f"{name}s"))


@member("plan")
def set_aside(request: WorkshopRequest) -> HttpResponse:
    """All that is set aside in the workshop; a button takes one up again."""
    if request.method == "POST":
        kind = KINDS.get(request.POST.get("kind", ""))
        if kind is None or not kind.aside:
            raise Http404("Nothing of this kind is set aside.")
        row = get_object_or_404(
            kind.model.objects.filter(workshop=request.workshop), pk=as_uuid(request.POST.get("row"))
        )
        put_aside(kind, row, aside=False)
        messages.success(request, f"{row} is in use again.")
        return redirect("set-aside")
    groups: list[tuple[Removable, list[WorkshopRow]]] = []
    for kind in KINDS.values():
        if kind.model is Piece:
            pieces = Piece.objects.of(request.workshop).filter(set_aside=True).select_related("part", "project")
            groups.append((kind, [*pieces[: MOST_SHOWN + 1]]))
        elif kind.aside:
            rows = kind.model.objects.filter(workshop=request.workshop, **{kind.aside: True})
            groups.append((kind, [*rows[: MOST_SHOWN + 1]]))
    context = {"groups": [(kind, rows[:MOST_SHOWN], len(rows) > MOST_SHOWN) for kind, rows in groups if rows]}
    return render(request, "projects/keeping/removing/set_aside.html", context)
