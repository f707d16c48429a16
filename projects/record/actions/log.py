"""Entries into the log. They are added, never changed; the same form sent twice is one entry a piece."""

import uuid
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction

from finishing.air.models import Forecast
from finishing.science.units import Quantity
from projects.record.images import Photograph
from projects.record.models import Photo, Piece, Step

from .changes import note_change

SHARED = {"minutes": "minute", "litres": "liter"}  # given for all the pieces together


@transaction.atomic
def log_step(
    *,
    by: Any,
    key: uuid.UUID,
    kind: str,
    happened_at: datetime,
    pieces: Iterable[Piece],
    of_each: dict[uuid.UUID, dict[str, Any]],
    photos: Iterable[Photograph] = (),
    forecast: Forecast | None = None,
    **facts: Any,
) -> list[Step]:
    """One entry for each piece, with the facts they share and `of_each` piece's own (layer, verdict …).

    The entry's id follows from the form's key and the piece, so a form that is sent again adds nothing.
    Minutes and litres are the rack's; each piece takes its share by area, or an equal one where an area is missing.
    """
    rack = list(pieces)
    shares = dict(zip([piece.id for piece in rack], shares_by_area(rack), strict=True))
    steps = []
    for piece in rack:
        own = {**_shared_out(facts, shares[piece.id]), **of_each.get(piece.id, {})}
        steps.append(_entry(piece, uuid.uuid5(key, str(piece.id)), kind, happened_at, by, forecast, own))
    if forecast and not forecast.relied_on:
        Forecast.objects.filter(pk=forecast.pk).update(relied_on=True)
    _keep_photos(steps, photos)
    for workshop in {step.workshop_id for step in steps}:
        note_change(workshop)
    return steps


def _entry(
    piece: Piece, entry: uuid.UUID, kind: str, happened_at: datetime, by: Any, forecast: Any, own: dict[str, Any]
) -> Step:
    made = Step.objects.filter(pk=entry).first()
    if made:
        return made
    return Step.objects.create(
        id=entry,
        workshop_id=piece.workshop_id,
        piece=piece,
        kind=kind,
        happened_at=happened_at,
        by=by,
        forecast=forecast,
        **own,
    )


def shares_by_area(rack: list[Piece]) -> list[float]:
    """Each piece's share of what a rack took, by painted area; equal shares where one is not known."""
    areas = [piece.part.area.magnitude if piece.part.area is not None else None for piece in rack]
    if not all(areas):
        return [1 / len(rack)] * len(rack)
    return [area / sum(areas) for area in areas]


def _shared_out(facts: dict[str, Any], share: float) -> dict[str, Any]:
    out = dict(facts)
    for name, unit in SHARED.items():
        if out.get(name) is not None:
            out[name] = Quantity(round(out[name].to(unit).magnitude * share, 3), unit)
    return out


def _keep_photos(steps: list[Step], photos: Iterable[Photograph]) -> None:
    """A photo of the rack stands with the entry of every piece on it, stored once."""
    for number, photo in enumerate(photos):
        stored: Photo | None = None
        for step in steps:
            name = uuid.uuid5(step.id, f"photo {number}")
            if Photo.objects.filter(pk=name).exists():
                continue
            stored = _keep_photo(step, name, photo, stored)


def _keep_photo(step: Step, name: uuid.UUID, photo: Photograph, stored: Photo | None) -> Photo:
    row = Photo(id=name, workshop_id=step.workshop_id, step=step, width=photo.width, height=photo.height)
    if stored:
        row.image.name, row.thumbnail.name = stored.image.name, stored.thumbnail.name
    else:
        row.image.save(f"{name}.jpg", ContentFile(photo.image), save=False)
        row.thumbnail.save(f"{name}.jpg", ContentFile(photo.thumbnail), save=False)
    row.save()
    return row


@transaction.atomic
def void_step(*, by: Any, step: Step, reason: str, now: datetime) -> Step:
    """A later entry that takes this one back; both stay in the log."""
    made = Step.objects.filter(voids=step).first()
    note_change(step.workshop_id)
    return made or Step.objects.create(
        id=uuid.uuid5(step.id, "voided"),
        workshop_id=step.workshop_id,
        piece_id=step.piece_id,
        kind=Step.Kind.VOIDED,
        happened_at=now,
        by=by,
        voids=step,
        reason=reason,
    )
