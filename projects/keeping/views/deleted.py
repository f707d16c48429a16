"""What was deleted and may still be put back, and the workshop's own end."""

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import VisitorRequest, WorkshopRequest, member
from finishing.workshops.actions import workshops
from finishing.workshops.actions.audit import address_of, note
from finishing.workshops.forms.base import as_uuid
from finishing.workshops.models import AuditEntry, Membership, User, Workshop
from projects.keeping.domain import deleted_workshops_of
from projects.keeping.forms import DeleteWorkshopForm
from projects.record.actions.projects import delete_project, put_back_project
from projects.record.models import Project

What = AuditEntry.What


@member("settle")
def deleted(request: WorkshopRequest) -> HttpResponse:
    return _page(request, DeleteWorkshopForm(workshop=request.workshop))


def _page(request: WorkshopRequest, form: DeleteWorkshopForm) -> HttpResponse:
    context = {
        "projects": Project.with_deleted.deleted().filter(workshop=request.workshop),
        "members": Membership.with_deleted.deleted().filter(workshop=request.workshop).select_related("user"),
        "workshops": deleted_workshops_of(request.user),
        "form": form,
    }
    return render(request, "projects/keeping/deleted/deleted.html", context)


@require_POST
@member("settle")
def delete(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk)
    try:
        delete_project(project, timezone.now())
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("project", project.pk)
    _note(request, What.DELETED, f"project {project}", request.workshop)
    messages.success(request, f"“{project}” is deleted. For 30 days it may be put back from here.")
    return redirect("deleted")


@require_POST
@member("settle")
def delete_workshop(request: WorkshopRequest) -> HttpResponse:
    form = DeleteWorkshopForm(request.POST, workshop=request.workshop)
    if not form.is_valid():
        return _page(request, form)
    workshops.delete_workshop(request.workshop, timezone.now())
    _note(request, What.DELETED, f"workshop {request.workshop}", request.workshop)
    messages.success(request, f"“{request.workshop}” is deleted. For 30 days it may be put back.")
    return redirect("deleted-workshops")


@require_POST
@member("settle")
def put_back(request: WorkshopRequest, kind: str, pk: UUID) -> HttpResponse:
    if kind == "project":
        project = get_object_or_404(Project.with_deleted.deleted().filter(workshop=request.workshop), pk=pk)
        put_back_project(project)
        _note(request, What.PUT_BACK, f"project {project}", request.workshop)
        messages.success(request, f"“{project}” is back, as it was.")
        return redirect("project", project.pk)
    left = get_object_or_404(Membership.with_deleted.deleted().filter(workshop=request.workshop), pk=pk)
    workshops.put_back(left)
    _note(request, What.PUT_BACK, f"{left.user}, {left.role}", request.workshop)
    messages.success(request, f"{left.user} is a member again, as {left.role}.")
    return redirect("members")


@login_required
def deleted_workshops(request: VisitorRequest) -> HttpResponse:
    """Of those who owned them: they may belong to no workshop any more."""
    assert isinstance(request.user, User)
    rows = deleted_workshops_of(request.user)
    if request.method == "POST":
        workshop = get_object_or_404(rows, pk=as_uuid(request.POST.get("workshop")))
        workshops.put_back(workshop)
        _note(request, What.PUT_BACK, f"workshop {workshop}", workshop)
        request.session["workshop"] = str(workshop.pk)
        messages.success(request, f"“{workshop}” is back, as it was.")
        return redirect("day-sheet")
    return render(request, "projects/keeping/deleted/workshops.html", {"workshops": rows})


def _note(request: VisitorRequest | WorkshopRequest, what: AuditEntry.What, about: str, workshop: Workshop) -> None:
    assert isinstance(request.user, User)
    note(what, by=request.user, workshop=workshop, about=about, address=address_of(request))
