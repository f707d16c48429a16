"""A frame with a coat by brush, pieces of it, and what was logged of them: for what work took."""

from datetime import UTC, datetime, timedelta

from projects.record.models import Step
from tests import factories

BEGIN = datetime(2026, 5, 4, 9, tzinfo=UTC)


def brushed_frame(workshop):
    """Half a square metre; one coat of enamel at 20 min/m²."""
    enamel = factories.CoatingFactory(workshop=workshop, name="enamel", is_primer=False)
    system = factories.SystemFactory(workshop=workshop)
    factories.LayerFactory(system=system, position=1, coating=enamel, minutes=20)
    return factories.PartFactory(design__workshop=workshop, name="frame", system=system)


def two_pieces(frame):
    """F-1 and F-2, in a project of their own."""
    project = factories.ProjectFactory(design=frame.design)
    place = factories.PlaceFactory(workshop=frame.workshop)
    return [factories.PieceFactory(part=frame, project=project, place=place, mark=mark) for mark in ("F-1", "F-2")]


def coated(piece, **given):
    layer = piece.part.system.layers.get()
    return factories.StepFactory(
        piece=piece, kind=Step.Kind.COATED, layer=layer, coating=layer.coating, **{"happened_at": BEGIN, **given}
    )


def coated_together(pieces, by, at, minutes):
    """A rack coated in so many minutes, shared out as the log does it."""
    for piece in pieces:
        coated(piece, by=by, happened_at=BEGIN + timedelta(hours=at), minutes=minutes / len(pieces))


def taken_back(step):
    return factories.StepFactory(piece=step.piece, kind=Step.Kind.VOIDED, voids=step, by=step.by)


def worked(pieces, work, minutes, day=0, **given):
    """Other work on pieces together, shared out as the log does it."""
    rack = list(pieces)
    by = given.pop("by", None) or factories.StepFactory(piece=rack[0], kind=Step.Kind.NOTED).by
    return [
        factories.StepFactory(
            piece=piece,
            kind=Step.Kind.WORKED,
            work=work,
            by=by,
            happened_at=BEGIN + timedelta(days=day),
            minutes=minutes / len(rack),
        )
        for piece in rack
    ]
