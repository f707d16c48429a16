"""Job cards and tags: chosen on a page, made as a PDF."""

from collections.abc import Sequence
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.text import slugify

from finishing.workshops.access import WorkshopRequest, member
from projects.papers.domain.job_cards import job_cards
from projects.papers.exports.job_cards import Sheet, job_cards_pdf
from projects.papers.exports.tags import tags_pdf
from projects.papers.forms import A4_CARDS, ORDINARY, TAGS, PrintForm
from projects.record.actions.tags import tags_of
from projects.record.domain.tags import tag_address
from projects.record.models import Machine, Piece, PieceQuerySet, Project
from projects.record.views.on_paper import for_paper
from projects.site.views import sent

LABELS = "labels"  # in the session: how the sheet of labels was laid out last
TICKED = 60  # pieces that are ticked at first


@member("look")
def papers(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.of(request.workshop).select_related("design"), pk=pk)
    own = project.pieces.filter(set_aside=False)
    ticked = own.values_list("pk", flat=True)[: TICKED + 1]
    first = {**ORDINARY, **request.session.get(LABELS, {}), "piece": [] if len(ticked) > TICKED else ticked}
    form = PrintForm(request.POST or None, workshop=request.workshop, project=project, initial=first)
    if form.is_valid():
        return _printed(request, project, form)
    context = {"project": project, "form": form, "machines": Machine.objects.filter(project=project)}
    return render(request, "projects/papers/papers.html", context, status=422 if form.errors else 200)


def _printed(request: WorkshopRequest, project: Project, form: PrintForm) -> HttpResponse:
    chosen = form.cleaned_data
    if chosen["make"] != TAGS:
        pdf = _cards(request, chosen["piece"], "A4" if chosen["make"] == A4_CARDS else "A5")
        return sent(pdf, f"{slugify(project.name) or 'job'}-cards.pdf")
    request.session[LABELS] = {name: chosen[name] for name in form.LABELS}
    pieces = list(chosen["piece"].select_related("project", "machine", "workshop"))
    codes = {tag.piece_id: str(tag) for tag in tags_of(pieces)}
    addresses, sheet = _addresses(request, pieces), form.label_sheet
    pdf = tags_pdf(pieces, request.workshop, addresses, codes, sheet, chosen["first"], chosen["outlines"])
    return sent(pdf, f"{slugify(project.name) or 'job'}-tags.pdf")


@member("look")
def card(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop), pk=pk)
    pdf = _cards(request, Piece.objects.of(request.workshop).filter(pk=pk), "A5")
    return sent(pdf, f"{slugify(piece.mark) or 'piece'}-card.pdf")


def _cards(request: WorkshopRequest, pieces: PieceQuerySet, sheet: Sheet) -> bytes:
    cards = job_cards(request.workshop, pieces)
    photos = {card.piece.pk: jpeg for card in cards if card.photo and (jpeg := for_paper(card.photo))}
    addresses, day = _addresses(request, [card.piece for card in cards]), f"{timezone.localdate():%-d %B %Y}"
    return job_cards_pdf(cards, request.workshop, day, addresses, photos, sheet)


def _addresses(request: WorkshopRequest, pieces: Sequence[Piece]) -> dict[UUID, str]:
    here = request.build_absolute_uri("/")
    return {tag.piece_id: tag_address(tag, here) for tag in tags_of(pieces)}
