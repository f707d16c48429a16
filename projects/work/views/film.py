"""The film map of a piece: readings pinned on its photos, against what its system asks."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, may, member
from finishing.workshops.forms.base import as_uuid
from projects.record.actions.film_readings import void_reading
from projects.record.models import FilmReading, Photo, Piece
from projects.work.domain.film_map import film_asked, film_map
from projects.work.forms.film import FilmReadingForm

OFFERED = 12  # photos
MOST_READINGS = 500
GAUGE = "gauge"  # in the session: how it was set last


@member("look")
def film(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop).with_log(), pk=pk)
    photos = list(Photo.objects.filter(step__piece=piece, step__voided_by=None).order_by("-added_at")[:OFFERED])
    chosen = as_uuid(request.GET.get("photo"))
    photo = next((row for row in photos if row.pk == chosen), photos[0] if photos else None)
    asked, last = film_asked(piece, timezone.now()), request.session.get(GAUGE)
    sent = request.POST if request.method == "POST" and may(request, "log") else None
    form = FilmReadingForm(
        sent,
        workshop=request.workshop,
        piece=piece,
        photo=photo,
        asked=asked,
        initial={"gauge": last} if last else {},
    )
    here = reverse("film", args=[pk]) + (f"?photo={photo.pk}" if photo else "")
    if form.repeated:
        return redirect(here)
    drawn = film_map(piece, photo)
    if len(drawn.rows) >= MOST_READINGS and form.is_bound:
        form.add_error(None, f"{MOST_READINGS} readings of a piece are the most.")
    if form.is_valid():
        form.instance.by = request.user
        form.save()
        request.session[GAUGE] = form.cleaned_data["gauge"]
        return redirect(here)
    context = {"piece": piece, "photos": photos, "photo": photo, "map": drawn, "form": form, "asked": asked}
    return render(request, "projects/work/film/film.html", context, status=422 if form.errors else 200)


@member("log")
@require_POST
def void(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    reading = get_object_or_404(FilmReading.objects.of(request.workshop).filter(voids=None), pk=pk)
    void_reading(reading, by=request.user)
    photo = f"?photo={reading.photo_id}" if reading.photo_id else ""
    return redirect(reverse("film", args=[reading.piece_id]) + photo)
