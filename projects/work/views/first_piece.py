"""One piece without a project: from the day sheet of a new workshop, and from the calculator for bare iron."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from projects.work.actions.first_piece import begin_with_blasting
from projects.work.forms.first_piece import FirstPieceForm

from .log import say_logged


@member("plan")
def first_piece(request: WorkshopRequest) -> HttpResponse:
    now = timezone.now()
    form = FirstPieceForm(request.POST or None, now=now, workshop=request.workshop)
    if not form.is_valid():
        status = 422 if form.errors else 200
        return render(request, "projects/work/first_piece/first_piece.html", {"form": form}, status=status)
    given = form.cleaned_data
    step = begin_with_blasting(
        by=request.user,
        key=form.key,
        name=given["name"],
        place=given["place"],
        blasted_at=given["happened_at"],
        now=now,
        seen=form.seen,
        trial=given["trial"],
        salt=given["salt"],
        **form.facts,
    )
    say_logged(request, [step])
    return redirect("piece", step.piece_id)
