"""Colours tried out on a photo: marks, candidates side by side, the chosen one, and the sheet for the customer."""

from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from finishing.science.colours import (
    Legibility,
    Tellable,
    contrast_working,
    difference,
    legibility,
    reading_working,
    tellable,
)
from finishing.science.working import Working
from finishing.site.fields import number
from finishing.workshops.access import WorkshopRequest, member
from projects.lettering import actions
from projects.lettering.forms import MOST_CANDIDATES, CandidateForm, MarksForm, PhotoToTryForm, ReplyForm
from projects.lettering.pictures import Look, found_split, mask_to_draw, picture, size_of
from projects.record.models import Candidate, Part, Photo, TryOut
from projects.record.views.photos import KEPT_BY_BROWSERS

OFFERED = 24  # photos of a part, the newest first


@dataclass(frozen=True)
class ShownCandidate:
    """A candidate as it is judged: how its letters read on its body, and which earlier one it can hardly be told from.

    body is known where it is typed, or where the part has a colour.
    """

    row: Candidate
    tag: str
    body: str
    reading: Legibility | None
    workings: list[Working]
    twin: "Candidate | None"
    twin_word: str


def shown_candidates(try_out: TryOut) -> list[ShownCandidate]:
    rows = list(try_out.candidates.select_related("letters_coating"))
    return [_shown(row, rows[:place], try_out) for place, row in enumerate(rows)]


def _shown(row: Candidate, before: list[Candidate], try_out: TryOut) -> ShownCandidate:
    body = row.body or try_out.part.colour
    height = number(try_out.part, "letter_height")
    workings = [contrast_working(row.letters, body)] if body else []
    if body and height is not None:
        workings.append(reading_working(row.letters, body, height))
    twin = next((other for other in before if _apart(row, other) is not Tellable.YES), None)
    return ShownCandidate(
        row=row,
        tag=Look.of(try_out, row).tag,
        body=body,
        reading=legibility(row.letters, body, height) if body else None,
        workings=workings,
        twin=twin,
        twin_word=_apart(row, twin).value if twin else "",
    )


def _apart(one: Candidate, other: Candidate) -> Tellable:
    """Both letters and bodies must be alike for two candidates to be alike: the pair that differs more decides."""
    pairs = [(one.letters, other.letters)]
    if one.body != other.body:
        if not (one.body and other.body):
            return Tellable.YES
        pairs.append((one.body, other.body))
    return tellable(*max(pairs, key=lambda pair: difference(*pair)))


@member("plan")
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Which photo of the part's pieces."""
    part = get_object_or_404(Part.objects.of(request.workshop), pk=pk)
    photos = _photos(part)
    form = PhotoToTryForm(request.POST if request.method == "POST" else None, workshop=request.workshop)
    form.offer_rows("photo", Photo.objects.of(request.workshop).filter(pk__in=[photo.pk for photo in photos]))
    if request.method == "POST" and form.is_valid():
        made, _ = TryOut.objects.get_or_create(
            workshop=request.workshop, part=part, photo=form.cleaned_data["photo"], mask=""
        )
        return redirect("try-out", made.pk)
    context = {"part": part, "photos": photos, "form": form, "try_outs": part.try_outs.select_related("photo")}
    return render(request, "projects/lettering/try_outs/new.html", context)


def _photos(part: Part) -> list[Photo]:
    rows = Photo.objects.of(part.workshop_id).filter(step__piece__part=part, step__voided_by=None)
    newest = rows.select_related("step__piece").order_by("-step__happened_at", "-added_at")
    return list({photo.image.name: photo for photo in newest}.values())[:OFFERED]


@member("look")
@require_safe
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    return _page(request, _try_out(request, pk))


def _try_out(request: WorkshopRequest, pk: UUID) -> TryOut:
    return get_object_or_404(TryOut.objects.of(request.workshop).select_related("part", "photo", "workshop"), pk=pk)


def _page(
    request: WorkshopRequest,
    try_out: TryOut,
    marks: MarksForm | None = None,
    candidate: CandidateForm | None = None,
    reply: ReplyForm | None = None,
) -> HttpResponse:
    workshop, address = request.workshop, try_out.addresses.in_use().first()
    wide, high = size_of(try_out)
    context = {
        "try_out": try_out,
        "part": try_out.part,
        "wide": wide,
        "high": high,
        "photo_tag": Look.of(try_out).tag,
        "split": _found_split(try_out),
        "candidates": shown_candidates(try_out),
        "marks": marks or MarksForm(workshop=workshop, instance=try_out),
        "form": candidate or CandidateForm(workshop=workshop, initial={"body": try_out.part.colour}),
        "reply": reply or ReplyForm(workshop=workshop, try_out=try_out),
        "replies": try_out.replies.select_related("candidate"),
        "address": address and request.build_absolute_uri(reverse("colour-sheet", args=[address.token])),
    }
    return render(request, "projects/lettering/try_outs/detail.html", context)


def _found_split(try_out: TryOut) -> int | None:
    try:
        return round(100 * found_split(Look.of(try_out)))
    except FileNotFoundError:
        return None


@member("plan")
@require_POST
def mark(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    try_out = _try_out(request, pk)
    form = MarksForm(request.POST, workshop=request.workshop, instance=try_out)
    if form.is_valid():
        form.save()
        return redirect(f"{reverse('try-out', args=[pk])}#candidates")
    return _page(request, _try_out(request, pk), marks=form)


@member("plan")
@require_POST
def new_candidate(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    try_out = _try_out(request, pk)
    form = CandidateForm(request.POST, request.FILES, workshop=request.workshop)
    form.instance.try_out = try_out
    if form.repeated:
        return redirect("try-out", pk)
    if form.is_valid() and try_out.candidates.count() >= MOST_CANDIDATES:
        form.add_error(None, f"{MOST_CANDIDATES} candidates are the most on one sheet. Take one out first.")
    if form.is_valid():
        form.save()
        return redirect(f"{reverse('try-out', args=[pk])}#candidates")
    return _page(request, try_out, candidate=form)


@member("plan")
@require_POST
def choose(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    candidate = _candidate(request, pk)
    actions.choose(candidate)
    messages.success(request, f"{candidate} is chosen: {candidate.try_out.part} is lettered so.")
    return redirect("try-out", candidate.try_out_id)


@member("plan")
@require_POST
def remove_candidate(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    candidate = _candidate(request, pk)
    candidate.delete()
    return redirect("try-out", candidate.try_out_id)


def _candidate(request: WorkshopRequest, pk: UUID) -> Candidate:
    rows = Candidate.objects.of(request.workshop).select_related("try_out__part", "try_out__photo", "letters_coating")
    return get_object_or_404(rows, pk=pk)


@member("log")
@require_POST
def note_reply(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """What was said by word of mouth."""
    try_out = _try_out(request, pk)
    form = ReplyForm(request.POST, workshop=request.workshop, try_out=try_out)
    if form.repeated:
        return redirect("try-out", pk)
    if form.is_valid():
        form.save()
        return redirect("try-out", pk)
    return _page(request, try_out, reply=form)


@member("plan")
@require_POST
def share(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """A new address, or none any more."""
    try_out = _try_out(request, pk)
    if "close" in request.POST:
        actions.close_sheet(try_out)
    else:
        actions.renew_sheet_address(try_out)
    return redirect(f"{reverse('try-out', args=[pk])}#sheet")


@member("look")
@require_safe
def photo(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    return as_jpeg(_try_out(request, pk))


@member("look")
@require_safe
def mask(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    headers = {"Cache-Control": "private, no-store", "X-Content-Type-Options": "nosniff"}
    return HttpResponse(mask_to_draw(_try_out(request, pk)), content_type="image/png", headers=headers)


@member("look")
@require_safe
def candidate_picture(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    candidate = _candidate(request, pk)
    return as_jpeg(candidate.try_out, candidate)


def as_jpeg(try_out: TryOut, candidate: Candidate | None = None, caching: str = KEPT_BY_BROWSERS) -> HttpResponse:
    try:
        content = picture(Look.of(try_out, candidate))
    except FileNotFoundError:
        raise Http404("The photo's file is not there.") from None
    headers = {"Cache-Control": caching, "X-Content-Type-Options": "nosniff", "Content-Disposition": "inline"}
    return HttpResponse(content, content_type="image/jpeg", headers=headers)
