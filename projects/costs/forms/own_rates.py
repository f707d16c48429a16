"""How the log's times are read, and a learned rate that shall be reckoned with."""

from django import forms

from finishing.workshops.forms.base import QuestionForm
from projects.costs.domain.own_rates import OwnRate


class ReadForm(QuestionForm):
    quiet = True
    mixing_in = forms.BooleanField(label="Time logged for a coat holds mixing and cleaning up too", required=False)

    @property
    def mixing(self) -> bool:
        return self.is_valid() and self.cleaned_data["mixing_in"]


class TakeForm(forms.Form):
    """`learned` and `now`: what the page showed; another figure by now is not taken."""

    learned = forms.CharField(max_length=40, widget=forms.HiddenInput)
    now = forms.CharField(max_length=40, widget=forms.HiddenInput)
    layers = forms.BooleanField(required=False)

    def still(self, rate: OwnRate) -> bool:
        """Whether the rate is as it was shown."""
        if rate.learned is None or not self.is_valid():
            return False
        shown = self.cleaned_data["learned"], self.cleaned_data["now"]
        return shown == (f"{rate.learned.magnitude}", f"{rate.now.magnitude}")
