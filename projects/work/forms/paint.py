"""What the paint list is to show."""

from django import forms

from finishing.workshops.forms.base import QuestionForm


class PaintListForm(QuestionForm):
    """A query that makes no sense is answered with the usual list."""

    layers = forms.ChoiceField(
        choices=[("to do", "layers still to do"), ("all", "every layer")],
        required=False,
        label="Reckon",
        widget=forms.RadioSelect,
    )
    wanted = forms.ChoiceField(
        choices=[("high", "the high amount, so that it does not run out"), ("likely", "the likely amount")],
        required=False,
        label="Buy for",
        widget=forms.RadioSelect,
    )

    @property
    def all_layers(self) -> bool:
        return self._chosen("layers", "to do") == "all"

    @property
    def layers_shown(self) -> str:
        return "all" if self.all_layers else "to do"

    @property
    def amount(self) -> str:
        return self._chosen("wanted", "high")

    def _chosen(self, name: str, usual: str) -> str:
        return usual if name in self.errors else self.cleaned_data[name] or usual
