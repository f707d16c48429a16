"""A colour as people say it: by the name that it has in the workshop, by its code, or picked."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from finishing.coatings.models import Coating
from finishing.workshops.forms.base import WorkshopForm
from finishing.workshops.models import Workshop

MOST_NAMED = 5  # colours that an error tells apart
HELP = "By its name among your paints, as # and six digits, or picked."
GREY = "#6f777e"  # where a picker begins
_CODE = re.compile(r"#?([0-9a-f]{6}|[0-9a-f]{3})", re.IGNORECASE)


class ColourInput(forms.TextInput):
    """A box for a code or a name, with the names of the workshop's colours, and a picker beside it."""

    template_name = "finishing/site/colour.html"
    names: tuple[str, ...] = ()

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        shown = context["widget"]
        names = f"{shown['attrs'].get('id', name)}-names"
        shown["attrs"] |= {"list": names, "spellcheck": "false", "autocomplete": "off"}
        shown["names"], shown["picked"] = self.names, code_of(str(value or "")) or GREY
        return context


class ColourField(forms.CharField):
    """The code of a colour, #2f5d3a. `offer` the workshop's own, so that it may be called by its name."""

    widget = ColourInput

    def __init__(self, **kwargs: Any) -> None:
        self.named: dict[str, str] = {}
        kwargs["help_text"] = kwargs.get("help_text") or HELP
        super().__init__(**{**kwargs, "max_length": 100})

    def offer(self, workshop: Workshop) -> None:
        """The colours of the workshop's paints by what they are called; "enamel, deep green" where two words do."""
        rows = Coating.objects.of(workshop).filter(retired=False).exclude(colour="").order_by("name")
        told = rows.values_list("colour_name", "name", "colour")
        self.named = {(f"{name}, {of_it}" if of_it else name): colour for of_it, name, colour in told}
        assert isinstance(self.widget, ColourInput)
        self.widget.names = tuple(self.named)

    def to_python(self, value: Any) -> str:
        text = super().to_python(value)
        if not text:
            return ""
        return code_of(text) or self._by_name(text)

    def _by_name(self, text: str) -> str:
        found = self._called(text) if _words(text) else {}
        if len(set(found.values())) == 1:
            return next(iter(found.values()))
        if found:
            raise ValidationError(f"“{text}” may be {_listed(found)}: write more of its name.")
        own = f" Your own are {_listed(self.named)}." if self.named else ""
        raise ValidationError(
            f"“{text}” is no colour known here.{own} Any other is written as # and six digits, for example #2f5d3a."
        )

    def _called(self, text: str) -> dict[str, str]:
        """Those with that name, else those with these words in theirs."""
        wanted = text.strip().casefold()
        same = {name: colour for name, colour in self.named.items() if wanted in _parts(name)}
        return same or {name: colour for name, colour in self.named.items() if _words(text) <= _words(name)}


def offer_colours(form: WorkshopForm) -> None:
    """In every box of a form that asks for a colour."""
    for field in form.fields.values():
        if isinstance(field, ColourField):
            field.offer(form.workshop)


def code_of(text: str) -> str:
    """#2f5d3a of "2F5D3A" or "#2F5D3A", and of "#abc" too; "" where it is no code."""
    code = _CODE.fullmatch(text.strip())
    if not code:
        return ""
    digits = code[1].lower()
    return "#" + (digits if len(digits) == 6 else "".join(2 * digit for digit in digits))


def _parts(name: str) -> set[str]:
    """What a colour may be called by: the whole of it, its paint or its own name."""
    return {name.casefold(), *(part.strip() for part in name.casefold().split(", "))}


def _words(text: str) -> set[str]:
    return set(re.findall(r"\w+", text.casefold()))


def _listed(named: dict[str, str]) -> str:
    names = list(named)
    further = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return "; ".join(names[:MOST_NAMED]) + further
