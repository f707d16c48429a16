"""What a tag on a piece leads to: its log form for who may log, a plain word for everybody else."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from finishing.workshops.access import VisitorRequest, WorkshopRequest, member
from projects.record.actions.tags import tag_anew
from projects.record.models import Piece, Tag


@require_safe
def tag(request: VisitorRequest, token: str) -> HttpResponse:
    """Whoever has not signed in is told the same of every code, so that nobody learns which there are."""
    if request.workshop is None:
        return render(request, "projects/work/tags/tag.html", status=200 if request.user.is_anonymous else 404)
    found = Tag.objects.of(request.workshop).with_code(token).select_related("piece__project").first()
    if found is None:
        return render(request, "projects/work/tags/tag.html", {"code": token}, status=404)
    piece = found.piece
    if "log" not in request.may or piece.set_aside or piece.project.closed:
        return redirect("piece", piece.pk)
    return redirect(f"{reverse('log')}?{urlencode({'piece': str(piece.pk)})}")


@require_safe
@member("look")
def find(request: WorkshopRequest) -> HttpResponse:
    """A box for who reads the code and has no camera for the picture beside it."""
    typed = request.GET.get("code", "")
    found = Tag.objects.of(request.workshop).with_code(typed).first() if typed else None
    if found:
        return redirect("tag", found.code)
    return render(request, "projects/work/tags/find.html", {"typed": typed})


@require_POST
@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop).select_related("workshop"), pk=pk)
    messages.success(request, f"Write {tag_anew(piece)} on its tag.")
    return redirect("piece", pk)
