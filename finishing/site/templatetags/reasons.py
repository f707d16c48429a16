"""Why an hour is refused → words and the mark it is drawn with; the only place."""

from django import template

from finishing.science.windows import BRUSH_DRAGS, DUST_FLIES, SPRAY_DRIFTS, Reason, WindWarning

register = template.Library()

# The gravest first: what spoils the piece, then what only asks to wait. The first is the one that is drawn.
REASONS = {
    Reason.NOT_KNOWN: ("the air is not known", "unknown"),
    Reason.RUST_BUDGET_SPENT: ("bare for too long: blast again", "rust"),
    Reason.FLASH_RUST: ("more flash rust than the sheet allows: blast again", "bloom"),
    Reason.NOT_DRY: ("wet from blasting: log it dry first", "drip"),
    Reason.TOO_LATE: ("the recoat window is over: rub down first", "late"),
    Reason.CLOSED_ZONE: ("closed zone: a coat now would lift the one below", "closed"),
    Reason.TOO_SOON: ("the coat below is not ready", "soon"),
    Reason.RAIN: ("rain before the work may be left", "rain"),
    Reason.DEW: ("dew before the coat bears it", "dew"),
    Reason.FROST: ("frost", "frost"),
    Reason.MARGIN: ("the iron sweats, or nearly", "beads"),
    Reason.HUMIDITY: ("humidity outside the sheet", "haze"),
    Reason.WIND: ("too windy to spray", "wind"),
    Reason.COLD: ("too cold", "cold"),
    Reason.HEAT: ("too hot", "heat"),
    Reason.OUTSIDE_WORKING_HOURS: ("outside working hours", "dusk"),
}


def reasons_among(flags: int) -> list[Reason]:
    """The reasons among these flags, the gravest first."""
    return [reason for reason in REASONS if flags & reason]


@register.filter
def reasons(flags: int) -> list[str]:
    """{{ flags|reasons|join:"; " }} → each reason in words."""
    return [REASONS[reason][0] for reason in reasons_among(flags)]


WINDS = {
    SPRAY_DRIFTS: "spray drifts: sheet off what stands to leeward, or brush it",
    BRUSH_DRAGS: "the paint drags under the brush",
    DUST_FLIES: "dust settles in wet gloss",
}


@register.filter
def wind(warning: WindWarning) -> str:
    """{{ warning|wind }} → what it does to a coat, in words."""
    return WINDS[warning.limit]


@register.filter
def mark(flags: int) -> str:
    """{{ cell.flags|mark }} → the name of the hatch it is drawn with; empty for a workable hour."""
    return REASONS[reasons_among(flags)[0]][1] if reasons_among(flags) else ""


@register.filter
def legend(flags: int) -> list[tuple[str, str]]:
    """{% for mark, words in strip.flags|legend %}: the marks among these flags."""
    return [(REASONS[reason][1], REASONS[reason][0]) for reason in reasons_among(flags)]
