"""How much of a part a layer covers, and how long hands take: m² in, minutes out, as bare numbers.

Whatever tells an area or minutes of finishing asks here, so that the paint list, a plan, the log, the costs and what a
piece may look forward to all mean the same.
"""

from dataclasses import dataclass
from math import ceil

from .constants import Constant
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT

WIPING = Constant("blowing down and wiping after blasting", "m_wipe", 10.0, "min/m²", COMMON_PRACTICE)
LETTERING = Constant("picking out a piece's raised letters", "t_letters", 45.0, "min", OUR_JUDGEMENT)
CARRIERS = 2  # carry a rack, or turn its pieces over   [common practice]
SHORTEST = Constant("least time that a step holds its piece", "t_least", 0.25, "h", OUR_JUDGEMENT)


def share_covered(side: str) -> float:
    """The share of a part's area that a layer on this side covers: "all", "first" or "second".

    A part that lies on one side while the other is painted shows half of its skin.  Basis: [our judgement].

    >>> share_covered("all"), share_covered("first"), share_covered("second")
    (1.0, 0.5, 0.5)
    """
    return 1.0 if side == "all" else 0.5


def layer_minutes(area: float, rate: float, side: str) -> float:
    """Minutes for a layer on a part, or on a rack of parts, of this area (m²); rate: minutes for each m² covered.

    t = A · share · rate
    Mixing before and cleaning up after a coat are not in it.

    >>> layer_minutes(1.0, 20.0, "all"), layer_minutes(1.0, 20.0, "first")
    (20.0, 10.0)
    """
    return area * share_covered(side) * rate


def application_hours(minutes: float) -> float:
    """Hours for which a step that takes these minutes holds its piece: a quarter of an hour at the least.

    >>> application_hours(45), application_hours(1)
    (0.75, 0.25)
    """
    return max(SHORTEST.value, minutes / 60)


def lettering_minutes(pieces: int) -> float:
    """Minutes for the raised letters of so many pieces, whatever their size."""
    return LETTERING.value * pieces


def wiping_minutes(area: float) -> float:
    """Minutes to blow down and wipe an area (m²) that has been blasted."""
    return WIPING.value * area


@dataclass(frozen=True)
class Rates:
    """What a workshop's own hands take around the layers; every answer is in minutes.

    masking, blasting: minutes for a square metre · mixing, cleaning: minutes each time · moving: minutes for a rack
    day: minutes from when work begins until it ends, the longest that one session of a paint lasts

    >>> rates = Rates(masking=10, blasting=15, mixing=15, cleaning=15, moving=30, day=600)
    >>> rates.to_mask(0.5), rates.to_blast(0.5), rates.around_a_coat, rates.to_turn_over
    (5.0, 7.5, 30, 30)
    """

    masking: float
    blasting: float
    mixing: float
    cleaning: float
    moving: float
    day: float

    def to_mask(self, area: float) -> float:
        """Masking and plugging this area (m²) before it is blasted."""
        return self.masking * area

    def to_blast(self, area: float) -> float:
        """Blasting this area (m²), where no visit says better."""
        return self.blasting * area

    @property
    def around_a_coat(self) -> float:
        """Mixing before and cleaning up after a session of one paint, once for all that is coated in it."""
        return self.mixing + self.cleaning

    def sessions(self, minutes: float) -> int:
        """How often a paint is mixed and cleaned up after for one coat that takes so many minutes, of however many
        pieces: once, and once more for each further day that it takes.      Basis: [common practice].

        >>> rates = Rates(masking=10, blasting=15, mixing=15, cleaning=15, moving=30, day=600)
        >>> rates.sessions(124), rates.sessions(1300)
        (1, 3)
        """
        return ceil(minutes / self.day) if minutes > 0 else 0

    @property
    def to_turn_over(self) -> float:
        """Turning a rack's pieces over: like moving them, it is lifting for two."""
        return self.moving

    @property
    def hands_to_turn_over(self) -> float:
        """What that takes of all hands together: CARRIERS times as long."""
        return CARRIERS * self.to_turn_over
