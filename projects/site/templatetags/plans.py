"""What a kept plan has for a piece, for lists that tell of many."""

from typing import Any, Protocol

from django import template

register = template.Library()


class Coming(Protocol):
    def coming(self, piece: Any) -> list[Any]: ...


@register.filter
def coming(kept: Coming | None, piece: Any) -> list[Any]:
    """{{ kept|coming:piece }} → the steps that the kept plans have for it from now on, in order."""
    return kept.coming(piece) if kept else []
