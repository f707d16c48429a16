"""A machine's story by stage: told by the workshop, read page by page by its customer."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from finishing.workshops.access import VisitorRequest, WorkshopRequest, by_address, member
from projects.photos import actions
from projects.photos.domain import story
from projects.photos.forms import StoryPageForm
from projects.record.models import Follower
from projects.record.models.photos import Chapter

from .albums import project_of


@member("look")
@require_safe
def tell(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = project_of(request, pk)
    follower = project.followers.in_use().first()
    chapters = story(project)
    told = [
        (
            chapter,
            StoryPageForm(
                workshop=request.workshop,
                prefix=chapter.stage,
                initial={"words": chapter.page.words, "shared": chapter.page.shared} if chapter.page else None,
            ),
            follower and request.build_absolute_uri(reverse("follow-story", args=[follower.token, chapter.stage])),
        )
        for chapter in chapters
    ]
    return render(
        request, "projects/photos/stories/tell.html", {"project": project, "chapters": told, "follower": follower}
    )


@member("plan")
@require_POST
def keep(request: WorkshopRequest, pk: UUID, stage: str) -> HttpResponse:
    project, chapter = project_of(request, pk), _chapter(stage)
    form = StoryPageForm(request.POST, workshop=request.workshop, prefix=chapter)
    if form.is_valid():
        actions.tell_story(project, chapter, form.cleaned_data["words"], form.cleaned_data["shared"])
        messages.success(request, f"The page “{chapter.label}” is kept.")
    else:
        messages.error(request, "A page holds 3000 letters at most.")
    return redirect(f"{reverse('story', args=[project.pk])}#{chapter}")


@require_safe
@by_address(Follower)
def follow_story(request: VisitorRequest, row: Follower, stage: str) -> HttpResponse:
    """One page of the story, where the workshop shares it; no names and no money."""
    pages = story(row.project)
    shared = [chapter for chapter in pages if chapter.page and chapter.page.shared]
    chapter = next((chapter for chapter in shared if chapter.stage == stage), None)
    if chapter is None:
        raise Http404("This page of the story is not shared.")
    at = shared.index(chapter)
    context = {
        "project": row.project,
        "workshop": row.workshop,
        "token": row.token,
        "chapter": chapter,
        "earlier": shared[at - 1] if at else None,
        "later": shared[at + 1] if at + 1 < len(shared) else None,
    }
    return render(request, "projects/photos/stories/follow_story.html", context)


def _chapter(stage: str) -> Chapter:
    try:
        return Chapter(stage)
    except ValueError:
        raise Http404("No such stage.") from None
