"""Words of the trade and of the reckoning, explained by a tap where they stand: {% term "closed zone" %}."""

import secrets

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

register = template.Library()

TERMS = {
    "Biot number": (
        "How evenly a casting warms: the resistance of its own metal to heat over that of the air at its skin. Under"
        " 0.1 one temperature is fair for the whole piece; above it the core lags behind the skin."
    ),
    "closed zone": (
        "A stretch of hours in which the last coat is dry enough to paint over in look, and yet soft enough underneath"
        " for the solvent of the next to lift it. Paint before it begins or after it has ended, never in it."
    ),
    "members of the ensemble": (
        "The weather service reckons the same days many times, each time from a slightly different beginning. Each of"
        " these is a member; how many of them let a step be done says how sure it is."
    ),
    "as the sheet asks": (
        "Air, humidity, metal and the time since the last coat are all within what the data sheet of the paint allows,"
        " and the metal is far enough above its dew point."
    ),
    "came clean": (
        "A casting that needs no blasting: bought clean, or cleaned elsewhere. From this entry on it counts as bare"
        " iron, and its first coat has its hours to be on."
    ),
}
PICTURES = {  # where one says it sooner
    "Biot number": "finishing/site/_biot_number.html",
    "closed zone": "finishing/site/_closed_zone.html",
    "members of the ensemble": "finishing/site/_members_of_the_ensemble.html",
}


@register.simple_tag
def term(word: str, shown: str = "") -> SafeString:
    """The word, to be tapped; `shown` where the sentence needs another form of it. Not within a link or a summary."""
    number = secrets.token_hex(4)  # a fragment that comes later has other ids than the page it comes to
    told = {"word": word, "shown": shown or word, "meaning": TERMS[word], "number": number}
    told["picture"] = PICTURES.get(word, "")
    return mark_safe(render_to_string("finishing/site/_term.html", told).strip())  # a comma may follow
