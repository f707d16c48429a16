"""A tin that was opened, and what is seen of it later."""

from datetime import date
from typing import Any

from django import forms

from finishing.coatings.models import Coating
from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from projects.record.models import OpenedTin, TinLook
from projects.site.forms.days import not_to_come


class CoatingAsked(QuestionForm):
    """By the address or by one tap: of which coating."""

    coating = forms.ModelChoiceField(Coating.objects.all(), required=False)

    @property
    def asked(self) -> Coating | None:
        """None where it names none of this workshop's."""
        self.is_valid()
        coating: Coating | None = self.cleaned_data.get("coating")
        return coating


class OpenedTinForm(WorkshopForm):
    class Meta:
        model = OpenedTin
        fields = ["coating", "opened_on", "litres", "note"]
        widgets = {"opened_on": forms.DateInput()}

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.initial.setdefault("opened_on", today)
        self.offer_rows("coating", Coating.objects.of(self.workshop).filter(retired=False))

    def clean_opened_on(self) -> date:
        return not_to_come(self.cleaned_data["opened_on"], self.today)


class TinLookForm(WorkshopForm):
    class Meta:
        model = TinLook
        fields = ["found", "litres", "note"]
        widgets = {"found": forms.RadioSelect}

    def __init__(self, *args: Any, tin: OpenedTin, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.tin = tin

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("found") in TinLook.ENDS and cleaned.get("litres"):
            self.add_error("litres", "Nothing remains of it then: leave this empty.")
        return cleaned
