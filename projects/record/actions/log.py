"""Entries into the log. They are added, never changed; the same form sent twice is one entry a piece."""

import uuid
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models.fields.files import FieldFile

from finishing.air.models import Forecast, Reading
from finishing.science.units import Quantity
from finishing.workshops.models import User
from projects.record.domain.chapters import chapters_after, taken_at
from projects.record.images import Photograph
from projects.record.models import Operation, Photo, Piece, Step

from .changes import note_change
from .states import keep_states, lock

ENTRY = "entry"  # where a reading came from
_noted: ContextVar[list[FieldFile] | None] = ContextVar("files whose rows are not kept yet", default=None)
SHARED = {"minutes": "minute", "litres": "liter"}  # given for all the pieces together


def log_step(
    *,
    by: User,
    key: uuid.UUID,
    kind: str,
    happened_at: datetime,
    pieces: Iterable[Piece],
    of_each: dict[uuid.UUID, dict[str, Any]],
    photos: Iterable[Photograph] = (),
    forecast: Forecast | None = None,
    **facts: Any,
) -> list[Step]:
    """An entry for each piece, with the facts they share and `of_each` piece's own (layer, verdict …).

    The entry's id follows from the form's key and the piece, so a form that is sent again adds nothing.
    Minutes and litres are the rack's; each piece takes its share by area, or an equal one where an area is missing.
    """
    with rows_and_files() as files:
        rack = list(pieces)
        logged = Piece.objects.filter(pk__in=[piece.pk for piece in rack])
        lock(logged)
        entries = {}
        for piece, share in zip(rack, shares_by_area(rack), strict=True):
            own = {"kind": kind, "happened_at": happened_at, "by": by, "forecast": forecast, "rack": key, **facts}
            for name, unit in SHARED.items():
                if own.get(name) is not None:
                    own[name] = Quantity(round(own[name].to(unit).magnitude * share, 3), unit)
            pk = uuid.uuid5(key, str(piece.id))
            entries[pk] = Step(id=pk, workshop_id=piece.workshop_id, piece=piece, **own | of_each.get(piece.id, {}))
        there = Step.objects.in_bulk(entries)
        added = Step.objects.bulk_create(entry for pk, entry in entries.items() if pk not in there)
        steps = [there.get(pk, entry) for pk, entry in entries.items()]
        keep_states(logged)
        if forecast and not forecast.relied_on:
            Forecast.objects.filter(pk=forecast.pk).update(relied_on=True)
        _keep_reading(steps)
        _keep_photos(steps, photos, files)
        for workshop in {entry.workshop_id for entry in added}:
            note_change(workshop)
    return steps


@contextmanager
def rows_and_files() -> Iterator[list[FieldFile]]:
    """Rows with the files that are noted here, or neither: where the rows are not kept, no file stays. Of several
    inside each other the outermost decides: only its end is the transaction's, where a disk may be full too."""
    noted = _noted.get()
    files = [] if noted is None else noted
    outermost = _noted.set(files)
    try:
        with transaction.atomic():
            yield files
    except BaseException:
        for file in files if noted is None else ():
            file.delete(save=False)
        raise
    finally:
        _noted.reset(outermost)


def shares_by_area(rack: list[Piece]) -> list[float]:
    """Each piece's share of what a rack took, by painted area; equal shares where one is not known."""
    areas = [piece.part.area.magnitude for piece in rack if piece.part.area is not None]
    if len(areas) < len(rack) or not all(areas):
        return [1 / len(rack)] * len(rack)
    return [area / sum(areas) for area in areas]


def _keep_reading(steps: list[Step]) -> None:
    """Air that was read with an entry is a reading of its place; rain on the iron would be another entry."""
    for step in steps:
        if step.air_temperature is not None and step.humidity is not None:
            Reading.objects.get_or_create(
                place=step.place or step.piece.state.place or step.piece.place,
                taken_at=step.happened_at,
                source=ENTRY,
                defaults={
                    "workshop_id": step.workshop_id,
                    "temperature": step.air_temperature,
                    "humidity": step.humidity,
                    "raining": False,
                    "by": step.by,
                },
            )
            return


def _drop_reading(step: Step) -> None:
    """Of an entry that is taken back, unless another one of that moment stands for it."""
    others = Step.objects.of(step.workshop_id).filter(
        happened_at=step.happened_at, humidity__isnull=False, air_temperature__isnull=False, voided_by=None
    )
    if step.humidity is not None and not others.exclude(pk=step.pk).exists():
        Reading.objects.of(step.workshop_id).filter(taken_at=step.happened_at, source=ENTRY).delete()


def _keep_photos(steps: list[Step], photos: Iterable[Photograph], files: list[FieldFile]) -> None:
    """A photo of the rack stands with the entry of every piece on it, stored once."""
    chapters: dict[uuid.UUID, str] = {}
    for number, photo in enumerate(photos):
        chapters = chapters or chapters_after(steps)
        stored: Photo | None = None
        for step in steps:
            name = uuid.uuid5(step.id, f"photo {number}")
            if Photo.objects.filter(pk=name).exists():
                continue
            row = Photo(id=name, workshop_id=step.workshop_id, step=step, project_id=step.piece.project_id)
            row.taken_at, row.stage = taken_at(photo.taken, step.happened_at), chapters[step.pk]
            if stored:
                row.width, row.height = stored.width, stored.height
                row.image.name, row.thumbnail.name = stored.image.name, stored.thumbnail.name
                row.save()
            else:
                keep_photo(row, photo, files)
                stored = row


def keep_photo(row: Photo, photo: Photograph, files: list[FieldFile]) -> None:
    """Save a row with its two files, which are noted to be taken away again where the rows are not kept."""
    row.width, row.height = photo.width, photo.height
    for file, content in ((row.image, photo.image), (row.thumbnail, photo.thumbnail)):
        file.save(f"{row.pk}.jpg", ContentFile(content), save=False)
        files.append(file)
    row.save()


def repair_key(step: Step) -> uuid.UUID:
    """Of the operation that a chosen repair puts on the part's route."""
    return uuid.uuid5(step.pk, "repair")


def _drop_repair(step: Step) -> None:
    """The repair that an entry chose is no more on the route, unless somebody has asked for a price of it; and an old
    part that was to be made anew is taken up again."""
    if step.repair == Step.Repair.REMADE:
        Piece.objects.filter(pk=step.piece_id, rejected_for="").update(set_aside=False)
    elif step.repair:
        asked = {"quotes": None, "request_lines": None, "order_lines": None, "tools": None}
        Operation.objects.filter(pk=repair_key(step), **asked).delete()


@transaction.atomic
def void_step(*, by: User, step: Step, reason: str, now: datetime) -> Step:
    """A later entry that takes this one back; both stay in the log."""
    note_change(step.workshop_id)
    _drop_reading(step)
    _drop_repair(step)
    voiding, _ = Step.objects.get_or_create(
        voids=step,
        defaults={
            "id": uuid.uuid5(step.id, "voided"),
            "workshop_id": step.workshop_id,
            "piece_id": step.piece_id,
            "kind": Step.Kind.VOIDED,
            "happened_at": now,
            "by": by,
            "reason": reason,
        },
    )
    return voiding


@transaction.atomic
def void_rack(*, by: User, steps: Iterable[Step], reason: str, now: datetime) -> list[Step]:
    """All of these are taken back, or none."""
    return [void_step(by=by, step=step, reason=reason, now=now) for step in steps]


@rows_and_files()
def correct_rack(*, by: User, wrong: Iterable[Step], now: datetime, **entry: Any) -> list[Step]:
    """Take these entries back and log what is right in their place, as `log_step` does; their photos come along."""
    old = list(wrong)
    void_rack(by=by, steps=old, reason="corrected", now=now)
    steps = log_step(by=by, **entry)
    of_piece = {step.piece_id: step for step in steps}
    for photo in Photo.objects.filter(step__in=old).select_related("step"):
        if photo.step and (right := of_piece.get(photo.step.piece_id)):
            same = {"image": photo.image.name, "thumbnail": photo.thumbnail.name}
            told = ("width", "height", "project_id", "taken_at", "stage", "caption", "kept_back")
            facts = {"workshop_id": right.workshop_id, "step": right} | {name: getattr(photo, name) for name in told}
            Photo.objects.get_or_create(id=uuid.uuid5(right.id, f"photo of {photo.pk}"), defaults=same | facts)
    return steps
