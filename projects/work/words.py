"""What an outlook says, in a few words: a list tells hundreds of them. Each is a filter of the templates."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from finishing.science.rust import Because
from finishing.site.templatetags.clock import clock
from projects.record.models import Slot
from projects.record.models.stages import Next, Stage

from .domain.outlook import Outlook

register = template.Library()


@register.filter
def until(outlook: Outlook) -> SafeString:
    """{{ outlook|until }} → "<b>Coat before today 14:20</b>": until when bare iron keeps."""
    state, rain = outlook.state, outlook.rust_because == Because.MAY_RAIN
    wet = state.wet_until_dry or outlook.overdue
    if state.wet_until_dry:
        word = "Wet from blasting since"
    elif outlook.overdue:
        word = "Wet since" if state.wet_at or outlook.rust_because == Because.WET else "Time up since"
    elif outlook.in_doubt:
        word = "May have been rained on since" if rain else "Not known since"
    elif outlook.doubtful:
        word = "May rain from" if rain else "Known until"
    else:
        word = "Coat before"
    return format_html('<b class="wet">{} {}</b>' if wet else "<b>{} {}</b>", word, clock(outlook.coat_before_at))


@register.filter
def next_step(outlook: Outlook) -> str:
    """{{ outlook|next_step }} → "first coat of enamel", "touch up: left foot; blast"."""
    state, lettering = outlook.state, outlook.piece.part.lettering
    touch_up = f"touch up: {state.touch_up}; " if state.touch_up else ""
    if state.next == Next.BLAST:
        first = f"{state.to_repair}, then " if state.to_repair else ""
        what = first + (f"blast again: {state.blast_again}" if state.blast_again else "blast")
    elif state.next == Next.LETTER:
        what = f"letters “{lettering}”" if lettering else "letters"
    elif state.next == Next.NO_SYSTEM:
        what = Next.NO_SYSTEM.label
    elif state.stage == Stage.STAYS_BARE:
        what = Stage.STAYS_BARE.label
    elif state.next == Next.NOTHING:
        what = Next.NOTHING.label
    else:
        what = state.next_layer.label if state.next_layer else ""
    return touch_up + what


@register.filter
def when_next(outlook: Outlook) -> str:
    """{{ outlook|when_next }} → "coat before today 14:20", "from Thu 10:00": when that is; "" where nothing says."""
    state = outlook.state
    if state.is_bare:
        return _when_bare(outlook)
    if outlook.in_closed_zone:
        ends = outlook.closed_zone and outlook.closed_zone[1]
        return f"in its closed zone until {clock(ends)}" if ends else "in its closed zone"
    if outlook.too_late:
        return "recoat window over: rub down first"
    if state.next not in (Next.COAT, Next.PREPARE, Next.LETTER):
        return ""
    if outlook.allowed_now:
        return "now"
    return f"from {clock(outlook.next_span[0])}" if outlook.next_span else "no hour in sight"


def _when_bare(outlook: Outlook) -> str:
    if outlook.state.wet_until_dry:
        return "wet from blasting"
    if outlook.overdue:
        return "time bare is over"
    if outlook.in_doubt:
        return "not known: measure, or look"
    return f"{'known until' if outlook.doubtful else 'coat before'} {clock(outlook.coat_before_at)}"


@register.filter
def by_plan(slot: Slot, outlook: Outlook) -> str:
    """{{ slot|by_plan:outlook }} → "by the plan today 14:20: turn over (no longer holds)"; which step it is only where
    that is not the next layer."""
    layer = outlook.state.next_layer
    other = "" if layer and slot.label == layer.label else f": {slot.label}"
    return f"by the plan {clock(slot.begin)}{other}{' (no longer holds)' if slot.broken else ''}"
