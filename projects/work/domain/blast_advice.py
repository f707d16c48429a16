"""What is proposed for a piece that is to be blasted: what it is to the grit, what comes off, with what and how hard.

A proposal is where the blaster begins; whoever knows the piece changes it.
"""

from collections.abc import Iterable

from finishing.media.models import Medium
from finishing.science import blasting, grit
from finishing.science.nozzle import HOSE_LOSS
from finishing.science.units import Quantity
from projects.record.models.designs import Part
from projects.record.models.pieces import Piece
from projects.record.models.steps import Step
from projects.record.models.visits import Visit, VisitPiece

USUAL_PROFILE, GENTLE_PROFILE = 50.0, 30.0  # µm, where the part does not say   [common practice]
GENTLE = ("thin or cracked iron", "steel sheet", "aluminium", "brass and bronze")
GRADE = "Sa 2½"
GRAIN_FEED = Quantity(0.15, "bar")  # as long as nobody chose a medium   [common practice]


def proposed(
    visit: Visit, piece: Piece, media: Iterable[Medium], medium: Medium | None = None, grade: str = GRADE
) -> VisitPiece:
    """A piece on a visit with what is advised for it, not saved."""
    surface = surface_of(piece)
    medium = medium or medium_for(piece.part, surface, media)
    feed = medium.feed_difference if medium else GRAIN_FEED
    start, most = pressures_for(piece.part, surface, visit.most_pressure, feed)
    return VisitPiece(
        workshop_id=visit.workshop_id,
        visit=visit,
        piece=piece,
        medium=medium,
        surface=surface,
        shape=shape_of(piece.part),
        grade=grade,
        pressure_start=start,
        pressure_most=most,
    )


def surface_of(piece: Piece) -> str:
    """What is likely to come off: bloom where it was clean before, paint where it has any, else rust or skin."""
    if piece.state.blast_again == Step.Kind.BLOOM.label:
        return "light rust"
    if piece.old_paint or piece.state.blast_again:
        return "thick old paint"
    return surface_of_new(piece.part)


def surface_of_new(part: Part) -> str:
    """What comes off a part that was never blasted or painted: skin of what is cast anew, rust of an old machine."""
    return grit.TIGHT if "iron" in part.metal and not part.design.hidden else "plain rust"


def shape_of(part: Part) -> str:
    return "flat" if part.material == Part.Material.STEEL else "ribbed casting"


def medium_for(part: Part, surface: str, media: Iterable[Medium]) -> Medium | None:
    """The best suited of these media, own bags before the library's; None where none suits."""
    metal, found = part.metal, list(media)
    usable = [one for one in found if not blasting.medium_refusals(one.value())]
    order = [fit.kind for fit in grit.choices(metal, surface)["suited"]]
    suited = [one for one in usable if one.fit(metal, surface).word == "suited" and one.kind in order]
    wanted = _profile_wanted(part, metal)
    return min(
        suited,
        key=lambda one: (one.from_library, order.index(one.kind), abs(_middle(one, wanted) - wanted), one.name),
        default=None,
    )


def _profile_wanted(part: Part, metal: str) -> float:
    if part.profile is not None:
        return float(part.profile.to("µm").magnitude)
    return GENTLE_PROFILE if metal in GENTLE else USUAL_PROFILE


def _middle(medium: Medium, unknown: float) -> float:
    if medium.profile is None:
        return unknown
    return float((medium.profile[0] + medium.profile[1]).to("µm").magnitude / 2)


def pressures_for(
    part: Part, surface: str, rig_gives: Quantity | None, feed_difference: Quantity
) -> tuple[Quantity, Quantity]:
    """Pressure at the nozzle to begin at and not to exceed, no higher than the rig can send there."""
    start, most = grit.pressures(part.metal, surface)
    if rig_gives is None:
        return start, most
    reach = max(rig_gives - HOSE_LOSS.likely - feed_difference, Quantity(1, "bar"))
    return min(start, reach), min(most, reach)
