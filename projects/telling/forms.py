"""The mail server, who is told of what, and where a test goes."""

from collections.abc import Mapping
from typing import Any

from django import forms

from finishing.workshops.models import Workshop
from projects.record.models import MailReader, MailServer


class MailServerForm(forms.ModelForm):
    new_password = forms.CharField(
        label="Password",
        required=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="Not shown again. Left empty, the one that is kept stays.",
    )

    class Meta:
        model = MailServer
        fields = ("host", "port", "security", "user", "new_password", "sender", "on")

    def clean_host(self) -> str:
        host: str = self.cleaned_data["host"].strip()
        if "/" in host or ":" in host or " " in host:
            raise forms.ValidationError("The server's name alone, as smtp.example.org; its port has a box of its own.")
        return host


class MailReaderForm(forms.ModelForm):
    about = forms.MultipleChoiceField(
        label="Is told of",
        choices=MailReader.About.choices,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one."},
    )

    class Meta:
        model = MailReader
        fields = ("address", "about")

    def __init__(self, data: Mapping[str, Any] | None = None, *, workshop: Workshop) -> None:
        super().__init__(data, auto_id="reader-%s", instance=MailReader(workshop=workshop))

    def clean_address(self) -> str:
        address: str = self.cleaned_data["address"]
        if MailReader.objects.of(self.instance.workshop).filter(address__iexact=address).exists():
            raise forms.ValidationError("This address is told already: take it out first, then add it anew.")
        return address


class MailTestForm(forms.Form):
    to = forms.EmailField(label="Send a test to")
