"""A place: how far the estimate of the metal there lies from what was measured."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.models import Place
from projects.work.domain.differences import difference_at


@member("look")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    place = get_object_or_404(Place.objects.of(request.workshop).select_related("workshop"), pk=pk)
    template = "projects/work/places/detail.html" + ("#difference" if request.htmx else "")
    return render(request, template, {"place": place, "difference": difference_at(place, timezone.now())})
