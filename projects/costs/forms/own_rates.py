"""How the log's times are read, and a learned rate that shall be reckoned with."""

from typing import Any

from django import forms

from finishing.workshops.forms.base import QuestionForm


class ReadForm(QuestionForm):
    mixing_in = forms.BooleanField(label="Time logged for a coat holds mixing and cleaning up too", required=False)

    @property
    def mixing(self) -> bool:
        return self.is_valid() and self.cleaned_data["mixing_in"]


class TakeForm(forms.Form):
    """`learned` and `now`: what the page showed; another figure by now is not taken."""

    learned = forms.CharField(max_length=40, widget=forms.HiddenInput)
    now = forms.CharField(max_length=40, widget=forms.HiddenInput)
    layers = forms.BooleanField(required=False)

    def still(self, rate: Any) -> bool:
        shown = (self.cleaned_data["learned"], self.cleaned_data["now"]) if self.is_valid() else ()
        return shown == (f"{rate.learned.magnitude}", f"{rate.now.magnitude}")
