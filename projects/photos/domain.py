"""A project's photos found again, and put in the order of its story."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from projects.record.models import Part, Photo, Project, StoryPage, each_once
from projects.record.models.photos import Chapter, PhotoQuerySet


@dataclass(frozen=True)
class Wanted:
    """By what a photo is looked for; what is left empty does not matter."""

    stage: str = ""
    part: Part | None = None
    first: date | None = None
    last: date | None = None
    text: str = ""


def found_photos(project: Project, wanted: Wanted) -> PhotoQuerySet:
    rows: PhotoQuerySet = project.photos.standing()
    if wanted.stage:
        rows = rows.filter(stage=wanted.stage)
    if wanted.part:
        rows = rows.filter(step__piece__part=wanted.part)
    if wanted.first:
        rows = rows.filter(taken_at__gte=_begin(wanted.first))
    if wanted.last:
        rows = rows.filter(taken_at__lt=_begin(wanted.last) + timedelta(days=1))
    for word in wanted.text.split():
        said = (
            *(Q(caption__icontains=word), Q(step__note__icontains=word), Q(step__reason__icontains=word)),
            *(Q(step__piece__mark__icontains=word), Q(step__piece__part__name__icontains=word)),
            *(Q(step__removal__tag__iexact=word), Q(step__removal__came_off__icontains=word)),
        )
        anywhere = Q()
        for place in said:
            anywhere |= place
        rows = rows.filter(anywhere)
    return rows


def _begin(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min))


@dataclass(frozen=True)
class StoryChapter:
    """A stage of the story: its photos in the order in which they were taken, and what is told of it."""

    stage: Chapter
    page: StoryPage | None
    photos: list[Photo]


def story(project: Project, of: Q | None = None) -> list[StoryChapter]:
    """Every stage that has a photo or words; `of`: of which photos, where not of all."""
    pages = {page.stage: page for page in project.story_pages.all()}
    photos = in_order(project.photos.for_customers().filter(of or Q()))
    chapters = [
        StoryChapter(stage, pages.get(stage), [photo for photo in photos if photo.stage == stage]) for stage in Chapter
    ]
    return [chapter for chapter in chapters if chapter.photos or (chapter.page and chapter.page.words)]


def in_order(rows: PhotoQuerySet) -> list[Photo]:
    """Each once, the first taken first."""
    return each_once(rows.select_related("step__piece__part", "machine", "project").order_by("taken_at", "added_at"))


def before_and_after(photos: Iterable[Photo], before: str, after: str) -> tuple[Photo | None, Photo | None]:
    """Those that are asked for by their keys; else the first and the last."""
    rows = list(photos)
    by_key = {str(photo.pk): photo for photo in rows}
    first, last = (rows[0], rows[-1]) if rows else (None, None)
    return by_key.get(before, first), by_key.get(after, last)
