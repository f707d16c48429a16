"""The owner's page of backups: when they were made, a new one, one taken away, brought, or put back."""

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.actions.audit import address_of, note
from finishing.workshops.models import AuditEntry
from projects.keeping.access import owns_all
from projects.keeping.actions.backups import media_folder, want_restore
from projects.keeping.actions.tasks import ask_backup
from projects.keeping.domain import BackupFile, backups_in, progress_of, wanting
from projects.keeping.forms import BringForm


@member("settle")
def backups(request: WorkshopRequest) -> HttpResponse:
    """The list; while one is being made a part of the page asks again and again."""
    return _page(request, BringForm(auto_id="bring-%s"))


def _page(request: WorkshopRequest, form: BringForm) -> HttpResponse:
    now = timezone.now()
    progress = progress_of(settings.BACKUPS, now)
    part = "#progress" if request.htmx and progress and progress.open else ""
    context = {
        "photos_elsewhere": media_folder() is None,
        "kept_here": connection.vendor == "sqlite",
        "owns_all": owns_all(request),
        "backups": backups_in(settings.BACKUPS),
        "wanting": wanting(request.workshop, settings.BACKUPS, now),
        "progress": progress,
        "folder": settings.BACKUPS,
        "restores": settings.RESTORES_FROM_PAGE,
        "form": form,
        "refresh": bool(request.htmx) and not part,
    }
    response = render(request, f"projects/keeping/backups/backups.html{part}", context)
    if context["refresh"]:
        response["HX-Refresh"] = "true"
    return response


@require_POST
@member("settle")
def new(request: WorkshopRequest) -> HttpResponse:
    _only_whoever_owns_all(request)
    progress = progress_of(settings.BACKUPS, timezone.now())
    if progress is None or not progress.open:
        ask_backup()
    return redirect("backups")


@member("settle")
def file(request: WorkshopRequest, name: str) -> FileResponse:
    """The zip itself, to be kept on another disk."""
    _only_whoever_owns_all(request)
    backup = _named(name)
    response = FileResponse(backup.path.open("rb"), as_attachment=True, filename=backup.path.name)
    response["Cache-Control"] = "private, no-store"
    return response


@require_POST
@member("settle")
def remove(request: WorkshopRequest, name: str) -> HttpResponse:
    _only_whoever_owns_all(request)
    backup = _named(name)
    backup.path.unlink(missing_ok=True)
    note(
        AuditEntry.What.DELETED,
        by=request.user,
        workshop=request.workshop,
        about=f"backup {backup.name}",
        address=address_of(request),
    )
    messages.success(request, "That backup is gone.")
    return redirect("backups")


@require_POST
@member("settle")
def bring(request: WorkshopRequest) -> HttpResponse:
    _only_whoever_owns_all(request)
    form = BringForm(request.POST, request.FILES, auto_id="bring-%s")
    if not form.is_valid():
        return _page(request, form)
    messages.success(request, "It is whole and stands in the list; put it back from there.")
    return redirect("backups")


@require_POST
@member("settle")
def restore(request: WorkshopRequest, name: str) -> HttpResponse:
    _only_whoever_owns_all(request)
    if not settings.RESTORES_FROM_PAGE:
        raise PermissionDenied("Here a backup is put back by the command line alone.")
    want_restore(_named(name), by=str(request.user))
    response = render(request, "projects/keeping/backups/restoring.html", status=202)
    response["Refresh"] = "3; url=/"
    return response


def _named(name: str) -> BackupFile:
    for backup in backups_in(settings.BACKUPS):
        if backup.name == name:
            return backup
    raise Http404("There is no such backup.")


def _only_whoever_owns_all(request: WorkshopRequest) -> None:
    if connection.vendor != "sqlite":
        raise PermissionDenied("PostgreSQL has its own backups: pg_dump, and a copy of the folder of photos.")
    if not owns_all(request):
        raise PermissionDenied("A backup holds every workshop here, and you do not own them all.")
