"""What a customer sees of a project: stages and photos, no names and no money."""

from collections import Counter

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from finishing.workshops.access import VisitorRequest, by_address
from projects.record.domain.states import read_states
from projects.record.models import Follower, Photo, Project
from projects.record.models.stages import Stage


@require_safe
@by_address(Follower)
def follow(request: VisitorRequest, row: Follower) -> HttpResponse:
    pieces = read_states(row.project.pieces.filter(set_aside=False).order_by("part__name", "mark"))
    stages = Counter(piece.state.stage for piece in pieces)
    context = {
        "project": row.project,
        "workshop": row.project.workshop,
        "token": row.token,
        "pieces": pieces,
        "stages": [(stage, stages[stage]) for stage in Stage.on_the_way(stages)],
        "photos": _photos(row.project),
    }
    return render(request, "projects/work/follow/follow.html", context)


def _photos(project: Project) -> list[Photo]:
    """The newest first; a photo of a rack once, not of a piece set aside or an entry taken back."""
    rows = (
        Photo.objects.filter(step__piece__project=project, step__piece__set_aside=False, step__voided_by=None)
        .select_related("step__piece__part")
        .order_by("-step__happened_at", "-added_at")
    )
    return list({photo.image.name: photo for photo in rows}.values())[:60]
