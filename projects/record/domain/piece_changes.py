"""What a change of many pieces at once does with each."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from projects.record.models import Piece, Step


@dataclass(frozen=True)
class PiecesChange:
    """changed: pieces that become otherwise, not yet saved · counts: how many, by what · logged: those that stay where
    they stood first, since where they stand now is in their log"""

    changed: list[Piece]
    counts: Mapping[str, int]
    logged: list[Piece]


def change_of(pieces: Iterable[Piece], asked: Mapping[str, Any]) -> PiecesChange:
    """What the values asked for, by column, do with each; pieces are given them and not saved."""
    rows = list(pieces)
    with_log = set(Step.objects.filter(piece__in=rows).order_by().values_list("piece", flat=True).distinct())
    counts: Counter[str] = Counter()
    changed, logged = [], []
    for piece in rows:
        differs = {name: value for name, value in asked.items() if getattr(piece, name) != value}
        if "place" in differs and piece.pk in with_log:
            del differs["place"]
            logged.append(piece)
        for name, value in differs.items():
            setattr(piece, name, value)
            counts[name] += 1
        if differs.get("set_aside") is False:
            piece.rejected_for, piece.rejected_in, piece.counts_against = "", None, None
        changed += [piece] if differs else []
    return PiecesChange(changed, counts, logged)
