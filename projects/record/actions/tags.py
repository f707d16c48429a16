"""Codes for the tags of pieces, made when somebody wants to write or print one."""

from collections.abc import Iterable

from projects.record.models import Piece, Tag


def tags_of(pieces: Iterable[Piece]) -> list[Tag]:
    """The tag in use of each piece, in their order; one is made where there is none."""
    wanted = list(pieces)
    in_use: dict[object, Tag] = {}
    for tag in Tag.objects.filter(piece__in=wanted).select_related("workshop").order_by("made_at"):
        in_use[tag.piece_id] = tag
    missing = [Tag(workshop=piece.workshop, piece=piece) for piece in wanted if piece.pk not in in_use]
    in_use |= {tag.piece_id: tag for tag in Tag.objects.bulk_create(missing)}
    return [in_use[piece.pk] for piece in wanted]


def tag_anew(piece: Piece) -> Tag:
    """Another code; those before it still answer."""
    tag: Tag = Tag.objects.create(workshop=piece.workshop, piece=piece)
    return tag
