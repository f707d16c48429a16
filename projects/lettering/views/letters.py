"""The letters of a part: size, paint, when and in which order they are picked out; what a nameplate is to say."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from finishing.science.colours import legibility
from finishing.science.letters import ORDER_OF_WORK, casting_warnings
from finishing.site.fields import number
from finishing.workshops.access import WorkshopRequest, member
from projects.lettering import actions
from projects.lettering.forms import WordingForm
from projects.record.models import Part, Piece, Wording
from projects.work.domain.letters import letters_face, letters_paint, letters_workings
from projects.work.domain.outlook import shared_outlooks

MOST_PIECES = 200


@member("look")
@require_safe
def letters(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    part = _part(request, pk)
    return _page(request, part, WordingForm(workshop=request.workshop, part=part))


def _part(request: WorkshopRequest, pk: UUID) -> Part:
    rows = Part.objects.of(request.workshop).select_related("design", "lettering_coating", "wording", "workshop")
    return get_object_or_404(rows, pk=pk)


def _page(request: WorkshopRequest, part: Part, form: WordingForm, status: int = 200) -> HttpResponse:
    pieces = Piece.objects.of(request.workshop).at_work().filter(part=part).with_log()[:MOST_PIECES]
    outlooks = shared_outlooks(request.workshop, [*pieces], timezone.now()) if part.has_letters else []
    height, colours = number(part, "letter_height"), (part.lettering_colour, part.colour)
    context = {
        "part": part,
        "face": letters_face(part),
        "paint": letters_paint(part, part.lettering_coating),
        "workings": letters_workings(part),
        "warnings": casting_warnings(height, number(part, "letter_relief"), number(part, "letter_stroke")),
        "reading": legibility(*colours, height) if all(colours) else None,
        "outlooks": outlooks,
        "order_of_work": ORDER_OF_WORK,
        "wordings": part.wordings.newest_first(),
        "form": form,
    }
    return render(request, "projects/lettering/letters/letters.html", context, status=status)


@member("plan")
@require_POST
def propose(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Another version of a nameplate's words; it is not chosen by that."""
    part = _part(request, pk)
    form = WordingForm(request.POST, workshop=request.workshop, part=part)
    if form.repeated:
        return redirect("letters", pk)
    if not form.is_valid():
        return _page(request, part, form, status=422)
    form.instance.by = request.user
    form.save()
    return redirect(f"{reverse('letters', args=[pk])}#wording")


@member("plan")
@require_POST
def choose(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    wording = get_object_or_404(Wording.objects.of(request.workshop).select_related("part"), pk=pk)
    ordered_otherwise = actions.choose_wording(wording)
    messages.success(request, f"“{wording}” is what {wording.part} says.")
    for line in ordered_otherwise:
        said = f"with “{line.wording}”" if line.wording else "without words"
        messages.warning(request, f"It is ordered {said} from {line.order.supplier}: tell them.")
    return redirect(f"{reverse('letters', args=[wording.part_id])}#wording")
