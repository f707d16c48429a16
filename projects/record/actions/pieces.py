"""What is done with pieces, beside their log."""

from collections.abc import Iterable, Sequence
from uuid import UUID

from django.db import transaction

from finishing.workshops.models import Place
from projects.record.domain.marks import propose_marks
from projects.record.models import Part, Piece, Project

from .changes import note_change
from .projects import start_project
from .states import keep_states

CHANGED_TOGETHER = (
    *("place", "machine", "salt", "old_paint", "set_aside"),
    *("rejected_for", "rejected_in", "counts_against"),  # of one taken up again
)


@transaction.atomic
def make_pieces(pieces: Iterable[Piece]) -> list[Piece]:
    """Save new pieces; those that an earlier sending of the same form made stay as they are."""
    wanted = list(pieces)
    known = set(Piece.objects.filter(pk__in=[piece.pk for piece in wanted]).values_list("pk", flat=True))
    made = Piece.objects.bulk_create(piece for piece in wanted if piece.pk not in known)
    keep_states(Piece.objects.filter(pk__in=[piece.pk for piece in made]))
    return made


SINGLE = {False: "Single pieces", True: "Tried out"}  # the project of pieces that came without one, by whether a trial


@transaction.atomic
def make_single_piece(*, pk: UUID, place: Place, name: str, trial: bool, salt: str = "") -> Piece:
    """A piece of a part of that name, in the project that holds such pieces; the same `pk` again is the same piece."""
    if there := Piece.objects.of(place.workshop_id).filter(pk=pk).first():
        return there
    kept = Project.objects.of(place.workshop_id).filter(name=SINGLE[trial], trial=trial, closed=False)
    project = kept.filter(design__hidden=True).first() or start_project(
        Project(workshop_id=place.workshop_id, name=SINGLE[trial], trial=trial), []
    )
    part, _ = Part.objects.get_or_create(workshop_id=place.workshop_id, design=project.design, name=name)
    marked: dict[str, list[str]] = {each: [] for each in project.design.parts.values_list("name", flat=True)}
    for of_part, mark in project.pieces.values_list("part__name", "mark"):
        marked[of_part].append(mark)
    piece = Piece(
        id=pk,
        workshop_id=place.workshop_id,
        project=project,
        part=part,
        place=place,
        mark=propose_marks([name], marked)[0],
        salt=salt,
    )
    return make_pieces([piece])[0]


def set_aside(piece: Piece, aside: bool) -> None:
    """A piece set aside waits outside the day sheet; its log stays. One taken up again is rejected no more."""
    piece.set_aside = aside
    if not aside:
        piece.rejected_for, piece.rejected_in, piece.counts_against = "", None, None
    piece.save(update_fields=["set_aside", "rejected_for", "rejected_in", "counts_against"])


@transaction.atomic
def change_pieces(pieces: Sequence[Piece]) -> None:
    Piece.objects.bulk_update(pieces, CHANGED_TOGETHER, batch_size=200)
    if pieces:
        note_change(pieces[0].workshop_id)
