"""What a customer sees of a project: stages and photos, no names and no money."""

from collections import Counter

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from finishing.workshops.access import VisitorRequest, by_address
from projects.record.domain.states import read_states
from projects.record.models import Chapter, Follower, Photo, Project, each_once
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
        "chapters": [Chapter(page.stage) for page in row.project.story_pages.filter(shared=True)],
    }
    return render(request, "projects/work/follow/follow.html", context)


def _photos(project: Project) -> list[Photo]:
    """The newest first; a photo of a rack once, not of a piece set aside or an entry taken back."""
    rows = project.photos.for_customers().select_related("step__piece__part", "machine", "project")
    return each_once(rows)[:60]
