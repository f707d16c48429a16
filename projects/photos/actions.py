"""What is done with photos beside their entries: many brought at once, told apart, and a story made of them."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from finishing.workshops.models import User
from projects.record.actions.log import keep_photo, log_step, rows_and_files
from projects.record.domain.chapters import chapter_at, chapter_of_whole, taken_at
from projects.record.images import Photograph
from projects.record.models import Machine, Photo, Piece, Project, Step, StoryPage
from projects.record.models.photos import Chapter


@dataclass(frozen=True)
class Pinned:
    """Where photos that come together belong, and what is said of all of them. Without a stage the log says it."""

    project: Project
    piece: Piece | None = None
    machine: Machine | None = None
    stage: str = ""
    caption: str = ""
    kept_back: bool = False


def add_photos(
    *, by: User, key: uuid.UUID, batch: uuid.UUID, to: Pinned, photos: Sequence[Photograph], now: datetime
) -> list[Photo]:
    """Each photo once, however often it is sent. Those of a piece stand with one note in its log for all of a batch."""
    with rows_and_files() as files:
        step = _note(by, batch, to, now) if to.piece else None
        kept = []
        for number, photo in enumerate(photos):
            pk = uuid.uuid5(key, f"photo {number}")
            if there := Photo.objects.filter(pk=pk).first():
                kept.append(there)
                continue
            row = Photo(id=pk, workshop_id=to.project.workshop_id, project=to.project, machine=to.machine, step=step)
            row.taken_at, row.caption, row.kept_back = taken_at(photo.taken, now), to.caption, to.kept_back
            row.stage = to.stage or suggested(to, row.taken_at)
            keep_photo(row, photo, files)
            kept.append(row)
        return kept


def _note(by: User, batch: uuid.UUID, to: Pinned, now: datetime) -> Step:
    there = Step.objects.filter(rack=batch, piece=to.piece).first()
    if there or to.piece is None:
        assert there is not None
        return there
    words, noted = to.caption or "Photographed.", Step.Kind.NOTED
    return log_step(by=by, key=batch, kind=noted, happened_at=now, pieces=[to.piece], of_each={}, note=words)[0]


def suggested(to: Pinned, moment: datetime) -> Chapter:
    """What a photo taken then shows, by the log."""
    if to.piece is None:
        return chapter_of_whole(to.project, to.machine, moment)
    return chapter_at(Piece.objects.with_log().get(pk=to.piece.pk), moment)


@transaction.atomic
def tell_of_photo(photo: Photo) -> None:
    """What is said of a photo holds for all rows of it: a rack's photo stands with every piece of the rack."""
    told = {name: getattr(photo, name) for name in ("caption", "stage", "taken_at", "kept_back")}
    Photo.objects.filter(project=photo.project_id, image=photo.image.name).update(**told)


def tell_story(project: Project, stage: Chapter, words: str, shared: bool) -> StoryPage:
    told = {"words": words, "shared": shared, "workshop_id": project.workshop_id}
    page, _ = StoryPage.objects.update_or_create(project=project, stage=stage, defaults=told)
    return page
