"""What a kept plan has for a piece, for lists that tell of many."""

from collections.abc import Iterable
from typing import Any, Protocol

from django import template

register = template.Library()


class Coming(Protocol):
    def coming(self, piece: Any) -> list[Any]: ...


@register.filter
def coming(kept: Coming | None, piece: Any) -> list[Any]:
    """{{ kept|coming:piece }} → the steps that the kept plans have for it from now on, in order."""
    return kept.coming(piece) if kept else []


@register.filter
def next_slots(kept: Coming | None, pieces: Iterable[Any]) -> list[Any]:
    """{{ kept|next_slots:pieces }} → the next step of each; one for those that have it together."""
    following = (slot for piece in pieces for slot in coming(kept, piece)[:1])
    return list({slot.pk: slot for slot in following}.values())
