"""Parts and pieces from a spreadsheet, and out into one."""

from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from openpyxl.utils import get_column_letter

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.proving import actions
from projects.proving.domain.parts_list import OF_PARTS, OF_PIECES
from projects.proving.exports.parts_list import empty_list, parts_list
from projects.proving.forms.parts_list import PartsListForm
from projects.proving.imports.parts_list import CheckedList, check_list
from projects.record.models import Design, Project
from projects.site.exports import TableFormat
from projects.site.imports.cells import CellError
from projects.site.imports.tables import NotATable
from projects.site.views import sent

MOST_SHOWN = 50  # faults, and rows of each kind; of more their number is told


@dataclass(frozen=True)
class Fault:
    """What is wrong, at its cell as a spreadsheet calls it: C7."""

    cell: str
    heading: str
    stands: str
    says: str


@member("plan")
def take_in(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The list is looked at, and then taken in whole or not at all."""
    design = get_object_or_404(Design.objects.of(request.workshop).select_related("workshop"), pk=pk)
    asked = {"project": as_uuid(request.GET["project"])} if "project" in request.GET else {}
    form = PartsListForm(
        request.POST or None, request.FILES or None, workshop=request.workshop, design=design, initial=asked
    )
    checked: CheckedList | None = None
    if form.is_valid():
        with transaction.atomic():
            Design.objects.select_for_update().get(pk=design.pk)  # the same list sent twice is taken in once
            checked = _look_at(form, design)
            if checked and not checked.errors and "take" in request.POST:
                actions.take_in_list(checked.changes)
                _tell(request, checked)
                project = form.cleaned_data["project"]
                return redirect("project", project.pk) if project else redirect("design", design.pk)
    context = {
        "design": design,
        "form": form,
        "checked": checked,
        "faults": _faults(checked)[:MOST_SHOWN] if checked else [],
        "most": MOST_SHOWN,
        "columns": [(column.headed(request.workshop.units), column) for column in (*OF_PARTS, *OF_PIECES)],
    }
    return render(request, "projects/proving/parts_lists/take_in.html", context)


def _look_at(form: PartsListForm, design: Design) -> CheckedList | None:
    """None where the file cannot be read; the form then says why."""
    data, project, place = (form.cleaned_data[name] for name in ("bytes", "project", "place"))
    try:
        return check_list(data, design, project, place)
    except NotATable as wrong:
        form.add_error("file", [str(error) for error in wrong.errors])
        return None


def _faults(checked: CheckedList) -> list[Fault]:
    rows = {row.number: row for row in checked.table.rows}

    def fault(error: CellError) -> Fault:
        columns = checked.table.columns
        if error.column not in columns:
            return Fault(f"row {error.row}", "", "", error.says)
        letter = get_column_letter(columns.index(error.column) + 1)
        stands = rows[error.row].text(error.column) if error.row in rows else ""
        return Fault(f"{letter}{error.row}", error.column, stands, error.says)

    return [fault(error) for error in checked.errors]


def _tell(request: WorkshopRequest, checked: CheckedList) -> None:
    changes = checked.changes
    counts = (
        (len(changes.parts), "new part", "new parts"),
        (len(changes.changed_parts), "part changed", "parts changed"),
        (len(changes.machines), "new machine", "new machines"),
        (len(changes.pieces), "new piece", "new pieces"),
        (len(changes.changed_pieces), "piece changed", "pieces changed"),
    )
    told = [f"{count} {single if count == 1 else several}" for count, single, several in counts if count]
    if told:
        messages.success(request, f"Taken in: {', '.join(told)}.")
    else:
        messages.info(request, "All of this list is here already; nothing was changed.")


@member("look")
def table(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    """`project`: with the pieces of that one."""
    design = get_object_or_404(Design.objects.of(request.workshop).select_related("workshop"), pk=pk)
    asked = as_uuid(request.GET.get("project"))
    project = get_object_or_404(Project.objects.filter(design=design), pk=asked) if asked else None
    return sent(parts_list(design, project, form), f"{slugify((project or design).name) or 'parts'}-parts.{form}")


@member("plan")
def empty(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    """To be filled in."""
    get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    return sent(empty_list(request.workshop.units, form), f"parts.{form}")
