"""A project's photos: brought, found again, told of, and held side by side."""

from urllib.parse import urlencode
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.photos import actions
from projects.photos.domain import before_and_after, found_photos, in_order
from projects.photos.forms import AddPhotosForm, FindPhotosForm, PhotoForm
from projects.record.models import Photo, Piece, Project

A_PAGE = 50  # photos


def project_of(request: WorkshopRequest, pk: UUID) -> Project:
    return get_object_or_404(Project.objects.of(request.workshop).select_related("design", "workshop"), pk=pk)


@member("look")
@require_safe
def album(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = project_of(request, pk)
    form = FindPhotosForm(request.GET, workshop=request.workshop, project=project)
    rows = found_photos(project, form.wanted).values_list("image", "pk")
    once = dict(reversed(list(rows)))  # a rack's photo is there once for each of its pieces
    keys = [key for _, key in reversed(once.items())]
    page = Paginator(keys, A_PAGE).get_page(request.GET.get("page"))
    by_key = Photo.objects.select_related("step__piece__part", "machine", "project").in_bulk(list(page))
    asked = {name: str(value) for name, value in request.GET.items() if name in form.fields and str(value)}
    context = {
        "project": project,
        "form": form,
        "page": page,
        "photos": [by_key[key] for key in page if key in by_key],
        "asked": urlencode(asked),
        "filtered": bool(asked),
    }
    return render(request, "projects/photos/albums/album.html", context)


@member("log")
@require_http_methods(["GET", "HEAD", "POST"])
def add(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = project_of(request, pk)
    asked = request.GET.get("piece", "")
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    first = {"piece": asked} if as_uuid(asked) else {}
    form = AddPhotosForm(*sent, workshop=request.workshop, project=project, initial=first)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        kept = actions.add_photos(
            by=request.user,
            key=given["key"],
            batch=given["batch"] or given["key"],
            to=form.pinned,
            photos=given["photos"],
            now=timezone.now(),
        )
        if not request.headers.get("X-Outbox"):
            messages.success(request, f"{len(kept)} photo{'s' * (len(kept) != 1)} kept.")
        return redirect("album", project.pk)
    context = {"project": project, "form": form, "most": settings.PHOTO_MOST_BYTES}
    return render(request, "projects/photos/albums/add.html", context, status=422 if form.errors else 200)


@member("look")
@require_http_methods(["GET", "HEAD", "POST"])
def about(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """One photo, large, and what is said of it."""
    rows = Photo.objects.of(request.workshop).select_related("step__piece__part", "step__by", "machine", "project")
    photo = get_object_or_404(rows, pk=pk)
    if request.method == "POST" and "log" not in request.may:
        return redirect("photo-about", pk)
    form = PhotoForm(request.POST if request.method == "POST" else None, workshop=request.workshop, instance=photo)
    if request.method == "POST" and form.is_valid():
        actions.tell_of_photo(form.instance)
        messages.success(request, "Noted.")
        return redirect("photo-about", pk)
    context = {"photo": photo, "form": form, "project": photo.project}
    return render(request, "projects/photos/albums/about.html", context, status=422 if form.errors else 200)


@member("look")
@require_safe
def compare(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Before and after: two photos of a piece, the first and the last unless others are chosen."""
    piece = get_object_or_404(Piece.objects.of(request.workshop).select_related("part", "project"), pk=pk)
    photos = in_order(Photo.objects.standing().filter(step__piece=piece))
    before, after = before_and_after(photos, request.GET.get("before", ""), request.GET.get("after", ""))
    context = {"piece": piece, "project": piece.project, "photos": photos, "before": before, "after": after}
    return render(request, "projects/photos/albums/compare.html", context)
