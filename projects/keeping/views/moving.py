"""One workshop taken to another installation, or brought from one."""

import tempfile

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import slugify

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.actions.audit import address_of, note
from finishing.workshops.models import AuditEntry
from projects.keeping.actions.workshop_out import write_workshop
from projects.keeping.forms import BringWorkshopForm


@member("settle")
def file(request: WorkshopRequest) -> FileResponse:
    """All of this workshop: as rows that another installation reads, as tables, and its photos and papers."""
    written = tempfile.TemporaryFile()  # noqa: SIM115  the answer closes it
    write_workshop(request.workshop, written)
    written.seek(0)
    name = f"{slugify(request.workshop.name) or 'workshop'}-{timezone.localdate()}.zip"
    response = FileResponse(written, as_attachment=True, filename=name)
    response["Cache-Control"] = "private, no-store"
    return response


@member("settle")
def bring(request: WorkshopRequest) -> HttpResponse:
    form = BringWorkshopForm(request.POST or None, request.FILES or None, keeper=request.user)
    if request.method == "POST" and form.is_valid():
        workshop = form.cleaned_data["workshop"]
        note(
            AuditEntry.What.BROUGHT,
            by=request.user,
            workshop=workshop,
            about=f"workshop {workshop}",
            address=address_of(request),
        )
        request.session["workshop"] = str(workshop.pk)
        messages.success(request, f"{workshop} is here, with its log and photos, and you are among its owners.")
        return redirect("members")
    return render(request, "projects/keeping/moving/bring.html", {"form": form})
