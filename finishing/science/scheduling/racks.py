"""Racks: pieces that share preparation and coating system are hung together and worked as one.

Too large for a session or a pot's life, they become several. A rack that somebody has put together stays as it is.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil

ROUNDING = 1e-9  # sums of areas and minutes meet their limits only so closely


@dataclass(frozen=True)
class PieceToHang:
    """What decides with whom a piece is worked.

    area: m² · preparation, system: whatever names them · rack: where somebody has hung it; "" leaves it to us
    apart: pieces that differ in this never share a rack by themselves (its place, or when it is there).
    """

    name: str
    area: float
    preparation: str
    system: str
    rack: str = ""
    apart: str = ""

    def __post_init__(self) -> None:
        if not self.area > 0:
            raise ValueError(f"{self.name}: has no area, so nobody can say how long it takes")
        if not self.system:
            raise ValueError(f"{self.name}: has no coating system")


@dataclass(frozen=True)
class RackLoad:
    """Pieces worked together; `chosen` where a person hung them."""

    name: str
    pieces: tuple[PieceToHang, ...]
    chosen: bool = False

    @property
    def area(self) -> float:
        """m²."""
        return sum(piece.area for piece in self.pieces)


def group(pieces: Iterable[PieceToHang], largest: float = float("inf")) -> list[RackLoad]:
    """Racks of at most `largest` m²: those a person chose as they are, the others in the order the pieces come.

    As many racks as the area needs, filled largest piece first where there is most room, so that they come out alike.
    A piece larger than that hangs alone.

    >>> frames = [PieceToHang(f"frame {n}", 2.0, "blast", "grey") for n in (1, 2, 3)]
    >>> [[piece.name for piece in rack.pieces] for rack in group(frames, largest=4.0)]
    [['frame 1', 'frame 3'], ['frame 2']]
    """
    if not largest > 0:
        raise ValueError("a rack needs room: its largest area is above 0")
    chosen: dict[str, list[PieceToHang]] = {}
    alike: dict[tuple[str, str, str], list[PieceToHang]] = {}
    for piece in pieces:
        if piece.rack:
            chosen.setdefault(piece.rack, []).append(piece)
        else:
            alike.setdefault((piece.preparation, piece.system, piece.apart), []).append(piece)
    hung = [RackLoad(name, tuple(group), chosen=True) for name, group in chosen.items()]
    shares = [share for group in alike.values() for share in _split(group, largest)]
    names = (name for n in range(1, len(hung) + len(shares) + 1) if (name := f"rack {n}") not in chosen)
    return hung + [RackLoad(name, tuple(share)) for name, share in zip(names, shares, strict=False)]


def _split(pieces: Sequence[PieceToHang], largest: float) -> list[list[PieceToHang]]:
    """The fewest equal shares that room allows; one more whenever a piece finds none."""
    in_order = sorted(pieces, key=lambda piece: -piece.area)
    for count in range(max(1, ceil(sum(p.area for p in pieces) / largest - ROUNDING)), len(pieces)):
        shares = _deal(in_order, count)
        if all(sum(p.area for p in share) <= largest + ROUNDING for share in shares):
            return shares
    return [[piece] for piece in pieces] if len(pieces) > 1 else [list(pieces)]


def _deal(pieces: Sequence[PieceToHang], count: int) -> list[list[PieceToHang]]:
    shares: list[list[PieceToHang]] = [[] for _ in range(count)]
    for piece in pieces:
        min(shares, key=lambda share: sum(p.area for p in share)).append(piece)
    return shares
