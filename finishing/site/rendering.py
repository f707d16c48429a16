"""How forms stand on a page: boxes with label, unit, help and error, under headings or row by row."""

from django.forms.boundfield import BoundField
from django.forms.renderers import TemplatesSetting


class Box(BoundField):
    """A field on a page.

    It says of itself that it may stay empty, unless its form is `quiet`: True where the page says so of all boxes,
    else the names of those of which it does.
    """

    @property
    def optional(self) -> bool:
        quiet = getattr(self.form, "quiet", ())
        return not (self.field.required or quiet is True or self.name in quiet)


class FormRenderer(TemplatesSetting):
    form_template_name = "finishing/site/form.html"
    formset_template_name = "finishing/site/rows.html"
    field_template_name = "finishing/site/field.html"
    bound_field_class = Box
